"""Brinebook keeps a road-cycling team's water and salt in the books over a three-week stage race."""

__version__ = "0.1.0"
