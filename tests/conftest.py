"""Shared fixtures: the tests folder is on the path, so that helpers import as ``house.tree``."""

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parent
for folder in (TESTS, TESTS.parent):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

from brinebook.access import tokens  # noqa: E402 the path comes first

tokens.CODE_COST = 2
"""Each of some thousand joins would take 0.04 s; ``test_invites.py`` looks at the cost a server has."""
