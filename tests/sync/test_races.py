"""The same phone twice at once, two editors at once: one outcome, on either database."""

import json
import threading

import msgspec
import pytest
from brinebook import clock
from brinebook.access import invites
from brinebook.access.devices import SignedIn
from brinebook.access.errors import InviteUnusable
from brinebook.records.edited import Rider
from brinebook.storage.errors import StaleWrite
from brinebook.storage.repository import Device
from brinebook.storage.sql import open_repository
from brinebook.sync.edit import edit
from brinebook.sync.push import push
from support import postgres
from support.world import KEY, fill_team

N_AT_ONCE = 6


@pytest.fixture(params=postgres.BACKENDS)
def repository(request, tmp_path):
    with postgres.address(request.param) as url:
        opened = open_repository(tmp_path, url)
        fill_team(opened, "red", ("r1", "r2"))
        yield opened
        opened.close()


def _at_once(work) -> list:
    """Run work in several threads that start together; return what each gave or raised."""
    outcomes: list = []
    ready = threading.Barrier(N_AT_ONCE)

    def run(place: int) -> None:
        ready.wait()
        try:
            outcomes.append(work(place))
        except Exception as problem:  # noqa: BLE001 the outcome is what is looked at
            outcomes.append(problem)

    threads = [threading.Thread(target=run, args=(place,)) for place in range(N_AT_ONCE)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return outcomes


def _car(repository) -> SignedIn:
    made = invites.invite(repository, "red", invites.Wanted(name="Car", role="car"))
    return invites.claim(
        repository, secret_or_code=made.secret, device_name="d", device_key="k", server_key=KEY,
    )


def test_a_batch_that_comes_in_several_times_at_once_is_kept_once(repository):
    who = _car(repository)
    raws = [
        json.dumps({
            "id": clock.new_id(), "kind": "drank", "subject_id": "r1", "by": who.member.id, "device_id": "d", "n": n,
            "lamport": n, "at_ms": n, "body": {"volume_l": 0.2, "how": "level"},
        }).encode()
        for n in range(20)
    ]

    outcomes = _at_once(lambda _: push(repository, who, raws, now_ms=1)[0])

    statuses = sorted(verdict.status for verdicts in outcomes for verdict in verdicts)
    assert statuses == ["dup"] * 20 * (N_AT_ONCE - 1) + ["ok"] * 20
    assert [row.seq for row in repository.events_after("red", 0, 100)] == list(range(1, 21))
    assert repository.digests("red")[0].n_events == 20


def test_of_several_edits_of_one_version_one_is_kept(repository):
    rider = repository.edited("red", Rider, "r1")

    outcomes = _at_once(lambda n: edit(repository, "red", "r1", msgspec.structs.replace(rider, name=f"Name {n}")))

    kept = [outcome for outcome in outcomes if isinstance(outcome, Rider)]
    assert len(kept) == 1
    assert sum(isinstance(outcome, StaleWrite) for outcome in outcomes) == N_AT_ONCE - 1
    assert repository.edited("red", Rider, "r1") == kept[0]


def test_an_invitation_is_claimed_by_one_device(repository):
    made = invites.invite(repository, "red", invites.Wanted(name="Car", role="car"))

    outcomes = _at_once(lambda n: invites.claim(
        repository, secret_or_code=made.secret, device_name="d", device_key=f"key {n}", server_key=KEY,
    ))

    assert sum(isinstance(outcome, SignedIn) for outcome in outcomes) == 1
    assert sum(isinstance(outcome, InviteUnusable) for outcome in outcomes) == N_AT_ONCE - 1


def test_renewing_a_device_never_takes_back_its_revocation(repository):
    repository.put_device(Device(
        id="d", team_id="red", member_id="m", name="d", token_sha="0" * 64, device_key_sha="", expires_at_ms=1,
        is_revoked=True,
    ))

    repository.renew_device("red", "d", 99)

    device = repository.device("red", "d")
    assert (device.is_revoked, device.expires_at_ms) == (True, 99)
