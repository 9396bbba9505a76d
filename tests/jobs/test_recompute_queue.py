"""Both queues: a burst of facts is computed once, a failure stops nothing, idle means done."""

import asyncio
import threading

import pytest
from brinebook.jobs import shared_queue
from brinebook.jobs.recompute_queue import RecomputeQueue, describe, joined
from brinebook.planning.recompute import Changed
from brinebook.storage.sql import open_repository
from support import postgres


def _changed(subject_id="r1", kind="drank"):
    return Changed(
        subject_ids=frozenset({subject_id}), kinds=frozenset({kind}), stage_ids=frozenset(), edited_types=frozenset(),
    )


class _Worker(threading.Thread):
    """A worker of the shared queue, in a thread of the test instead of a process."""

    def __init__(self, repository, url, work):
        super().__init__(daemon=True)
        self.app = shared_queue.worker(repository, url, work)
        self.loop, self.is_over = asyncio.new_event_loop(), asyncio.Event()

    def run(self):
        self.loop.run_until_complete(shared_queue.run_until(self.app, self.is_over))
        self.loop.close()

    def close(self):
        self.loop.call_soon_threadsafe(self.is_over.set)
        self.join(20)


def _shared(tmp_path, url):
    repository = open_repository(tmp_path, url)
    made = []

    def start(work, *, quiet_s=0.05):
        queue = shared_queue.SharedQueue(repository, url, gather_s=quiet_s)
        queue.start()
        worker = _Worker(repository, url, work)
        worker.start()
        made.extend((queue, worker))
        return queue

    yield start
    for one in made:
        one.close()
    repository.close()


@pytest.fixture(params=["in this process", "shared"])
def running(request, tmp_path):
    if request.param == "shared":
        with postgres.database() as url:
            yield from _shared(tmp_path, url)
        return
    queues = []

    def start(work, **options):
        queue = RecomputeQueue(work, **options)
        queues.append(queue)
        queue.start()
        return queue

    yield start
    for queue in queues:
        queue.close()


def test_a_burst_is_computed_once(running):
    done = []
    queue = running(lambda team_id, changed: done.append((team_id, changed)), quiet_s=0.2)

    for subject_id in ("r1", "r2", "r1"):
        queue.add("red", _changed(subject_id))
    assert queue.wait_until_idle(10)

    assert done == [("red", joined(_changed("r1"), _changed("r2")))]


def test_what_comes_during_a_computation_is_computed_after_it(running):
    entered, go_on, done = threading.Event(), threading.Event(), []

    def work(_team_id, changed):
        entered.set()
        go_on.wait(10)
        done.append(changed)

    queue = running(work)
    queue.add("red", _changed("r1"))
    assert entered.wait(10)
    queue.add("red", _changed("r2"))
    assert not queue.wait_until_idle(0)
    go_on.set()

    assert queue.wait_until_idle(10)
    assert done == [_changed("r1"), _changed("r2")]


def test_a_failure_stops_neither_the_queue_nor_another_team(running):
    done = []

    def work(team_id, _changed):
        if team_id == "red":
            raise ValueError("61.25")
        done.append(team_id)

    queue = running(work)
    queue.add("red", _changed())
    queue.add("blue", _changed("b1"))

    assert queue.wait_until_idle(10)
    assert done == ["blue"]


def test_an_exclusive_use_case_waits_for_the_computation(running):
    entered, go_on, order = threading.Event(), threading.Event(), []

    def work(_team_id, _changed):
        entered.set()
        go_on.wait(10)
        order.append("computed")

    queue = running(work)
    queue.add("red", _changed())
    assert entered.wait(10)
    other = threading.Thread(target=lambda: queue.exclusive(lambda: order.append("published")))
    other.start()
    go_on.set()
    other.join()

    assert order == ["computed", "published"]


def test_a_failure_is_described_by_place_and_never_by_value():
    with pytest.raises(ValueError, match="61") as caught:
        float("sodium was 61.25")
    text = describe(caught.value)

    assert text.startswith("ValueError at test_recompute_queue.py:")
    assert "61.25" not in text
