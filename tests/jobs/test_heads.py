"""A moved head is told once to those who listen: at once from here, by news from elsewhere, by looking in any case."""

import threading
import time

import pytest
from brinebook.jobs.heads import HeadWatch
from brinebook.storage.channel import Channel
from brinebook.storage.errors import StorageUnavailable
from brinebook.storage.sql import open_repository
from storage.contract import new_document, new_event
from support import postgres
from support.world import fill_team


class Ears:
    """What a watch told, with a wait for it."""

    def __init__(self, *team_ids):
        self.teams = frozenset(team_ids)
        self.told: list[tuple[str, int]] = []
        self.changed = threading.Condition()

    def tell(self, team_id, head):
        with self.changed:
            self.told.append((team_id, head))
            self.changed.notify_all()

    def hears(self, what, timeout_s=5.0) -> bool:
        with self.changed:
            return self.changed.wait_for(lambda: what in self.told, timeout=timeout_s)


@pytest.fixture
def repository(tmp_path):
    opened = open_repository(tmp_path)
    for team_id in ("red", "blue"):
        fill_team(opened, team_id, ("r1",))
    yield opened
    opened.close()


def test_a_head_is_told_once_and_only_to_those_who_listen(repository):
    ears = Ears("red")
    watch = HeadWatch(repository, lambda: ears.teams, ears.tell)
    watch.look()
    ears.told.clear()

    repository.add_events("red", [new_event()])
    repository.add_events("blue", [new_event()])
    for _ in range(3):
        watch.look()

    assert ears.told == [("red", 1)]


def test_a_document_moves_the_head_too(repository):
    ears = Ears("red")
    watch = HeadWatch(repository, lambda: ears.teams, ears.tell)
    watch.look()
    ears.told.clear()

    repository.put_documents("red", [new_document()])
    watch.look()

    assert ears.told == [("red", 0)]


def test_what_was_moved_here_is_told_at_once(repository):
    ears = Ears("red")
    watch = HeadWatch(repository, lambda: ears.teams, ears.tell)
    watch.start()
    repository.add_events("red", [new_event()])

    began = time.monotonic()
    watch.moved("red")
    is_heard = ears.hears(("red", 1))
    took_s = time.monotonic() - began
    watch.close()

    assert is_heard
    assert took_s < 1.0


def test_what_another_program_moved_is_found_without_news(repository):
    ears = Ears("red")
    watch = HeadWatch(repository, lambda: ears.teams, ears.tell)
    watch.start()
    repository.add_events("red", [new_event()])

    is_heard = ears.hears(("red", 1))
    watch.close()

    assert is_heard


class Deaf:
    """A channel that is broken both ways."""

    def tell(self, _team_ids):
        raise StorageUnavailable("broken")

    def heard(self, _timeout_s):
        raise StorageUnavailable("broken")

    def close(self):
        return None


def _two(tmp_path, url, channels):
    here, there = open_repository(tmp_path, url), open_repository(tmp_path, url)
    fill_team(here, "red", ("r1",))
    ears = Ears("red")
    listening = HeadWatch(here, lambda: ears.teams, ears.tell, channels)
    telling = HeadWatch(there, frozenset, ears.tell, channels)
    listening.start()
    telling.start()
    assert ears.hears(("red", 0))
    return here, there, listening, telling, ears


@pytest.mark.parametrize("is_deaf", [False, True])
def test_news_travel_between_servers_and_are_not_needed(tmp_path, is_deaf):
    with postgres.database() as url:
        channels = Deaf if is_deaf else lambda: Channel(url)
        here, there, listening, telling, ears = _two(tmp_path, url, channels)
        there.add_events("red", [new_event()])
        telling.moved("red")

        is_heard = ears.hears(("red", 1), timeout_s=10.0)

        for one in (listening, telling, here, there):
            one.close()
    assert is_heard


def test_a_channel_carries_the_names_of_teams():
    with postgres.database() as url:
        one, other = Channel(url), Channel(url)
        assert other.heard(0.01) == frozenset()

        one.tell(["red"])

        assert other.heard(5.0) == {"red"}
        one.close()
        other.close()
