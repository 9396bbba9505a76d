"""Rows and only rows; others see the ``Repository`` protocol, in records."""
