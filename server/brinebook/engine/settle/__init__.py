"""Fluids against scales, and what they teach."""
