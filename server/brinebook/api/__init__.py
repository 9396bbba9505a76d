"""Doorways: decode, authorise, call one use case, return its record."""
