"""A stage with its sheet, in memory, and a printer for each role."""

from contextlib import nullcontext

import pytest
from brinebook.planning.recompute import Changed, publish_stage, recompute
from brinebook.records.edited import Member
from brinebook.sheets.printing import Printer, Wanted
from planning.fakes import TEAM
from planning.test_coolbox import stocked


class Shelf:
    """The reads of the printer over the in-memory store."""

    def __init__(self, repository):
        self._repository = repository

    def snapshot(self, eyes=None):
        """One process, one moment: nothing moves between two reads, and ``Printer`` asks who may see by itself."""
        assert eyes is None or eyes.team_id == TEAM
        return nullcontext()

    def document(self, team_id, id_):
        assert team_id == TEAM
        return self._repository.heads.get(id_)

    def edited(self, team_id, type_, id_):
        assert team_id == TEAM
        return self._repository.edited_records.get((type_.__name__, id_))

    def documents(self, team_id, type_):
        return self._repository.documents(team_id, type_)


@pytest.fixture(scope="session")
def shelf():
    repository, _ = stocked(n_stages=1)
    publish_stage(repository, TEAM, "s1")
    recompute(repository, TEAM, Changed(frozenset({"r1", "r2", "r3"}), frozenset({"sweat_sample"})))
    return Shelf(repository)


@pytest.fixture(scope="session")
def printer(shelf):
    def make(role="physiologist", rider_id=None, **wanted):
        return Printer(shelf, TEAM, Member(id="m1", name="M", role=role, rider_id=rider_id), Wanted(**wanted))

    return make
