"""Fixtures of this folder, and which roles stand for the others where asking as all of them is slow."""

import os

from support.world import world

__all__ = ["world"]

SAMPLE = {"coach", "mate", "foreign"}
"""The narrowest eyes of the staff, a rider beside the one who is looked at, and another team."""
IS_LONG = os.environ.get("BRINEBOOK_LONG", "") not in {"", "0"}


def _is_spared(item):
    parameters = item.callspec.params if hasattr(item, "callspec") else {}
    is_slow = parameters.get("probed") == "postgresql" and "role" in parameters
    return is_slow and parameters["role"] not in SAMPLE


def pytest_collection_modifyitems(config, items):
    """Leave the other roles on PostgreSQL to ``BRINEBOOK_LONG=1``; they are counted as deselected."""
    spared = [] if IS_LONG else [item for item in items if _is_spared(item)]
    if spared:
        config.hook.pytest_deselected(items=spared)
        items[:] = [item for item in items if item not in set(spared)]
