"""A figure opens with its equation, and each source key with its citation."""

import msgspec
from brinebook.storage.repository import NewDocument

PROFILE = {
    "id": "profile:r1", "rider_id": "r1", "basis": {"engine_version": "1", "input_ids": []},
    "reasons": [{"code": "sodium", "quantity": "sodium_mmol_per_l", "source": "sodium_estimator"}],
    "explained": [
        {"quantity": "sweat_sodium_mmol_per_l", "value": 43.0, "equation": "sodium_estimate", "sources": ["baker2016"],
         "inputs": [{"quantity": "forearm_sodium_mmol_per_l", "value": 56.0, "evidence": "measured"}]},
        {"quantity": "sweat_factor", "value": 1.1, "equation": "sweat_factor", "sources": ["reconciliation"],
         "inputs": []},
    ],
}


def _stored(world):
    body = msgspec.json.encode(PROFILE)
    world.repository.put_documents("red", [NewDocument(id="profile:r1", type="profile", subject_id="r1", body=body)])


def test_every_source_named_comes_with_its_citation(world):
    _stored(world)

    told = world.join("red", "physiologist").get("/api/why/profile:r1").json()

    assert [one["equation"] for one in told["explained"]] == ["sodium_estimate", "sweat_factor"]
    assert set(told["sources"]) == {"baker2016", "reconciliation", "sodium_estimator"}
    assert "10.1080/02640414.2015.1055291" in told["sources"]["baker2016"]


def test_one_quantity_opens_alone(world):
    _stored(world)

    told = world.join("red", "physiologist").get("/api/why/profile:r1", quantity="sweat_factor").json()

    assert [one["quantity"] for one in told["explained"]] == ["sweat_factor"]
    assert set(told["sources"]) == {"reconciliation"}


def test_who_may_not_see_the_record_may_not_open_it(world):
    _stored(world)

    assert world.join("red", "soigneur").get("/api/why/profile:r1").status_code == 404
