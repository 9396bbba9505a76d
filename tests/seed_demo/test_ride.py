"""What was truly drunk and what was noted add up bottle by bottle."""

import pytest

from seed_demo.physiology import StageTruth
from seed_demo.race import stages
from seed_demo.ride import Road
from seed_demo.squad import RIDERS
from seed_demo.trouble import PLANTED

TRUTH = StageTruth(
    duration_h=4.2, sweat_l=4.0, respiratory_l=0.5, not_sweat_kg=0.7, energy_kcal=3500.0, sodium_mg=3000.0,
)


def _steps(n=5, bottles=2):
    return [
        {
            "feed_id": f"s-zone-{step}" if step % 2 else f"s-car-{step}", "feed_name": "Zone", "km": 30.0 * step,
            "until_km": 30.0 * (step + 1), "bottles": {"d-water": 1, "d-standard": bottles - 1}, "foods": {"f-gel": 1},
        }
        for step in range(n)
    ]


def _ride(rider_id, number, steps=None):
    return Road(stages()[number - 1], rider_id, TRUTH).ride(_steps() if steps is None else steps)


@pytest.mark.parametrize("card", RIDERS, ids=lambda card: card.id)
def test_a_rider_never_drinks_more_than_was_handed_up(card):
    ridden = _ride(card.id, 2)

    assert 0 < ridden.drunk_l + ridden.poured_l <= 0.5 * ridden.n_bottles + 1e-9
    assert ridden.sodium_mg > 0


def test_the_same_ride_is_the_same_each_time():
    first, second = _ride("r-maravel", 3), _ride("r-maravel", 3)

    assert first == second
    assert first != _ride("r-maravel", 4)


def test_facts_lie_between_start_and_finish():
    stage = stages()[1]
    deeds = _ride("r-maravel", 2).deeds

    assert deeds
    assert all(stage.start_at_ms <= deed.at_ms <= stage.start_at_ms + 4.2 * 3_600_000 for deed in deeds)
    assert {deed.hand for deed in deeds} == {"rider", "soigneur", "car"}


def test_the_forgetful_rider_notes_nothing_but_drinks():
    trouble = next(trouble for trouble in PLANTED if trouble.kind == "logs_nothing")
    ridden = _ride(trouble.rider_id, trouble.stages[0])

    assert ridden.deeds == []
    assert ridden.drunk_l > 1
    assert ridden.n_unnoted > 5


def test_the_rider_above_his_losses_drinks_more_than_he_loses():
    trouble = next(trouble for trouble in PLANTED if trouble.kind == "above_losses")

    assert _ride(trouble.rider_id, trouble.stages[0]).drunk_l > TRUTH.sweat_l + TRUTH.respiratory_l


def test_the_dry_rider_drinks_about_half():
    trouble = next(trouble for trouble in PLANTED if trouble.kind == "dry_days")
    steps = _steps(n=6, bottles=3)
    dry = sum(_ride(trouble.rider_id, number, steps).drunk_l for number in trouble.stages)
    usual = sum(_ride("r-maravel", number, steps).drunk_l for number in trouble.stages)

    assert dry < 0.75 * usual


def test_nothing_to_drink_without_a_plan():
    assert _ride("r-maravel", 2, []).drunk_l == 0.0
