"""Fixtures of this folder."""

from support.world import world

__all__ = ["world"]
