"""Shared fixtures: the tests folder is on the path, so that helpers import as ``house.tree``."""

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parent
for folder in (TESTS, TESTS.parent):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
