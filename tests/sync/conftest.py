"""Fixtures of this folder."""

import pytest
from support import postgres
from support.world import world

__all__ = ["world"]


@pytest.fixture(params=postgres.BACKENDS)
def place(request, tmp_path):
    """A data folder and an address; one of the two holds the store."""
    with postgres.address(request.param) as url:
        yield tmp_path / "data", url
