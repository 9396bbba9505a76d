"""Sweat samples, sodium estimates and weighed rides."""
