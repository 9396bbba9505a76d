"""A stage to settle, a weighing to repeat and a red flag wake those concerned, once, and nobody else."""

import json

import pytest
from brinebook.jobs.news import News
from brinebook.push.sender import Sentence
from brinebook.storage.repository import NewDocument, Subscription

ROLES = ("rider", "soigneur", "car", "physiologist", "coach", "doctor", "admin")


@pytest.fixture
def told(world):
    for role in ROLES:
        world.repository.put_subscription(Subscription(
            device_id=role, team_id="red", member_id=f"m-{role}", role=role, rider_id="r1" if role == "rider" else None,
            endpoint="https://fcm.googleapis.com/fcm/send/a", p256dh="B" * 87, auth="A" * 22,
        ))
    news = News(world.repository, world.services.wakeups)

    def tell(type_="settlement", id_="settlement:r1:s1", **body):
        since = world.repository.document_head("red")
        raw = json.dumps({"id": id_, "rider_id": "r1", "stage_id": "s1", **body}).encode()
        world.repository.put_documents("red", [NewDocument(id=id_, type=type_, subject_id="r1", body=raw)])
        world.sender.sent.clear()
        news.tell("red", since)
        world.services.wakeups.wait_until_idle()
        return {(one.role, sentence) for one, sentence in world.sender.sent}

    return tell


def _flag(code, severity):
    return {"flags": [{"code": code, "severity": severity}]}


def test_a_proposed_stage_wakes_those_who_settle_once(told):
    assert told(state="open") == set()
    assert told(state="proposed") == {("physiologist", Sentence.SETTLE), ("admin", Sentence.SETTLE)}
    assert told(state="proposed", id_="settlement:r2:s1", sweat_loss_l=2.0) == set()
    next_stage = told(state="proposed", stage_id="s2", id_="settlement:r1:s2")
    assert {role for role, _ in next_stage} == {"physiologist", "admin"}


def test_a_weighing_to_repeat_wakes_the_hands_at_the_scale(told):
    assert told(**_flag("weigh_again", "caution")) == {
        (role, Sentence.WEIGH) for role in ("physiologist", "admin", "doctor", "soigneur")
    }


@pytest.mark.parametrize("severity", ["medical", "stop"])
def test_a_red_flag_wakes_those_who_may_read_bodies_and_never_the_car(told, severity):
    woken = told("stage_plan", "stage_plan:r1:s1", **_flag("plasma_floor", severity))

    assert woken == {(role, Sentence.FLAG) for role in ("physiologist", "admin", "doctor")}
    assert told("stage_plan", "stage_plan:r1:s1", water_l=3.0, **_flag("plasma_floor", severity)) == set()


@pytest.mark.parametrize("severity", ["note", "caution"])
def test_a_lesser_flag_wakes_nobody(told, severity):
    assert told("profile", "profile:r1", **_flag("default_factor", severity)) == set()
