"""Eight writers and a reader that follows them: it misses nothing, and numbers from a bare sequence do make it miss."""

import itertools
import random
import threading
import time

import pytest
from brinebook.records.edited import Team
from brinebook.storage import mapping
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.storage.sql_facts import EVENT
from storage.contract import new_event
from support import postgres

N_WRITERS = 8
N_BATCHES = 12
BATCH = 5


@pytest.fixture(params=["sqlite", "postgresql"])
def repository(request, tmp_path):
    if request.param == "sqlite":
        opened = open_repository(tmp_path)
        yield opened
        opened.close()
        return
    with postgres.database() as url:
        opened = open_repository(tmp_path, url)
        yield opened
        opened.close()


class SlowCommits(SqlRepository):
    """The real thing, with a pause between giving out numbers and the commit, where a real server may be held up."""

    def add_batch(self, events, pause_s: float) -> None:
        with self.transaction():
            self.add_events("red", events)
            time.sleep(pause_s)


class BareSequence(SlowCommits):
    """The mutant: numbers from a sequence that no lock ties to the commit."""

    numbers = itertools.count(1)

    def add_batch(self, events, pause_s: float) -> None:
        rows = [mapping.event_row("red", next(self.numbers), new) for new in events]
        time.sleep(pause_s)
        with self.database.writing() as connection:
            connection.execute(EVENT.insert(), rows)


def _n_missed(repository, kind) -> int:
    racing = kind(repository.database)
    racing.add_team(Team(id="red", version=1, name="R", race_name="R"))
    written: list[str] = []

    def write(seed: int) -> None:
        draw = random.Random(seed)  # noqa: S311 a seeded order, no secret
        for _ in range(N_BATCHES):
            events = [new_event() for _ in range(BATCH)]
            racing.add_batch(events, draw.uniform(0.0, 0.02) if draw.random() < 0.5 else 0.0)
            written.extend(new.event.id for new in events)

    writers = [threading.Thread(target=write, args=(seed,)) for seed in range(N_WRITERS)]
    for writer in writers:
        writer.start()
    read, cursor, is_last = set(), 0, False
    while not is_last:
        is_last = not any(writer.is_alive() for writer in writers)
        for row in racing.events_after("red", cursor, 1000):
            read.add(row.raw)
            cursor = row.seq
    assert len(written) == N_WRITERS * N_BATCHES * BATCH
    return len(written) - len(read)


def test_a_reader_that_follows_eight_writers_misses_nothing(repository):
    assert _n_missed(repository, SlowCommits) == 0
    assert [row.seq for row in repository.events_after("red", 0, 1000)] == list(range(1, 481))


def test_the_check_would_notice_numbers_from_a_bare_sequence(repository):
    BareSequence.numbers = itertools.count(1)

    assert _n_missed(repository, BareSequence) > 0
