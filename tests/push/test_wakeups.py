"""Who is woken, and what happens to addresses that are gone."""

import pytest
from brinebook.jobs.wakeups import WakeUps
from brinebook.push.sender import Outcome, Sentence, SilentPushSender

SUBSCRIPTION = {
    "endpoint": "https://fcm.googleapis.com/fcm/send/a", "keys": {"p256dh": "B" * 87, "auth": "A" * 22},
}


def _subscribe(phone, **changes):
    return phone.post("/api/push-subscription", {**SUBSCRIPTION, **changes})


def test_only_the_riders_named_are_woken(world):
    riders = [world.join("red", "rider", rider_id) for rider_id in ("r1", "r2")]
    riders.append(world.join("blue", "rider", "b1"))
    assert {_subscribe(rider).status_code for rider in riders} == {200}

    world.services.wakeups.wake_riders("red", ["r1", "b1"], Sentence.PLAN)
    world.services.wakeups.wait_until_idle()

    assert [(one.rider_id, sentence) for one, sentence in world.sender.sent] == [("r1", Sentence.PLAN)]


@pytest.mark.parametrize(
    ("change", "code"),
    [({"endpoint": "https://localhost/x"}, "bad_endpoint"), ({"endpoint": 3}, "bad_record"),
     ({"keys": {"p256dh": "short", "auth": "A" * 22}}, "bad_record"), ({"keys": {}}, "bad_record")],
)
def test_a_bad_address_is_refused_at_the_door(world, change, code):
    answer = _subscribe(world.join("red", "rider", "r1"), **change)

    assert (answer.status_code, answer.json()["code"]) == (400, code)
    assert world.repository.subscriptions("red") == []


def test_a_device_takes_its_address_back(world):
    rider = world.join("red", "rider", "r1")
    _subscribe(rider)

    assert world.http.delete("/api/push-subscription", headers=rider.headers).status_code == 204

    assert world.repository.subscriptions("red") == []


@pytest.mark.parametrize(("outcome", "n_left"), [(Outcome.GONE, 0), (Outcome.LATER, 1), (Outcome.SENT, 1)])
def test_an_address_that_is_gone_is_forgotten(world, outcome, n_left):
    class Answering(SilentPushSender):
        def send(self, subscription, sentence):
            super().send(subscription, sentence)
            return outcome

    _subscribe(world.join("red", "rider", "r1"))
    wakeups = WakeUps(world.repository, Answering())
    wakeups.start()

    wakeups.wake_riders("red", ["r1"], Sentence.SYNC)
    wakeups.close()

    assert len(world.repository.subscriptions("red")) == n_left
