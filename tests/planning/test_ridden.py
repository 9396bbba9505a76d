"""A stage as it was ridden: power, time and energy of a rider's own file take the place of the predicted ones."""

import msgspec
import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.stage.ride import RideRecords
from brinebook.planning.recompute import Changed, recompute
from brinebook.planning.ridden import RecordedRide, ridden_body
from brinebook.records.derived import Settlement, StageForecast
from planning.fakes import HOUR_MS, TEAM, Facts, stages_of, team

KINDS = frozenset({"weighed", "agreed", "ridden"})
LENGTH_KM = 150.0


@pytest.fixture(scope="module")
def computed_race():
    repository, facts = team(n_stages=3, n_riders=2)
    stage = stages_of(repository)["s1"]
    facts.ride_a_stage("r1", stage, before_kg=68.0, after_kg=66.6, agreed_l=2.8)
    recompute(repository, TEAM, Changed(frozenset({"r1"}), KINDS, edited_types=frozenset({"stage"})))
    return repository, facts.n


@pytest.fixture
def race(computed_race):
    repository = computed_race[0].copy()
    facts = Facts(repository)
    facts.n = computed_race[1]
    return repository, facts, stages_of(repository)["s1"]


def _recorded(stage, *, hours=4.0, power_w=250.0, early_min=20, late_min=15):
    """Record the roll-out, the stage at an even speed, and the way to the bus."""
    n = round(hours * 3600)
    at_s = np.arange(-60 * early_min, n + 60 * late_min, dtype=float)
    speed_m_per_s = 1000.0 * LENGTH_KM / n
    return RecordedRide("fit", RideRecords(
        at_unix_s=stage.start_at_ms / 1000.0 + at_s, power_w=np.where((at_s >= 0) & (at_s < n), power_w, 100.0),
        travelled_m=speed_m_per_s * (at_s - at_s[0]),
    ), None)


def _keep(facts, stage, recorded, rider_id="r1"):
    body = msgspec.to_builtins(ridden_body(stage, rider_id, recorded))
    return facts.add("ridden", rider_id, body, at_ms=stage.start_at_ms + 7 * HOUR_MS, stage_id=stage.id)


def _settled(repository, rider_id="r1"):
    recompute(repository, TEAM, Changed(frozenset({rider_id}), KINDS, frozenset({"s1"})))
    return repository.record(f"settlement:{rider_id}:s1", Settlement)


def test_a_recording_is_cut_to_the_race(race):
    _, _, stage = race

    body = ridden_body(stage, "r1", _recorded(stage))

    assert body.started_at_ms == stage.start_at_ms
    assert body.duration_h == pytest.approx(4.0, abs=0.01)
    assert body.length_km == pytest.approx(LENGTH_KM, rel=1e-3)
    assert body.mean_power_w == pytest.approx(250.0, rel=1e-3)
    assert body.work_kj == pytest.approx(250.0 * 14.4, rel=1e-3)
    assert len(body.along) <= 130


def test_somebody_may_say_where_the_race_began_and_ended(race):
    _, _, stage = race
    start_ms = stage.start_at_ms

    body = ridden_body(stage, "r1", _recorded(stage), from_ms=start_ms + HOUR_MS, to_ms=start_ms + 2 * HOUR_MS)

    assert body.duration_h == pytest.approx(1.0, abs=0.001)
    with pytest.raises(UnphysicalInput, match="n_records"):
        ridden_body(stage, "r1", _recorded(stage), from_ms=start_ms + 40 * HOUR_MS)


def test_a_time_trial_begins_at_the_rider_s_own_start(race):
    _, _, stage = race
    own = msgspec.structs.replace(stage, start_offset_s_by_rider={"r1": 600.0})

    assert ridden_body(own, "r1", _recorded(stage)).started_at_ms == stage.start_at_ms + 600_000


def test_the_settlement_is_held_against_the_road_as_ridden(race):
    repository, facts, stage = race
    before = _settled(repository)
    forecast = repository.record("stage_forecast:r1:s1", StageForecast)

    _keep(facts, stage, _recorded(stage, hours=forecast.duration_h, power_w=1.25 * forecast.mean_power_w))
    after = _settled(repository)

    energy = {reason.code: reason for reason in after.reasons}
    assert after.model_sweat_l > 1.1 * before.model_sweat_l
    assert energy["energy"].evidence == "measured"
    assert energy["energy"].after == pytest.approx(1.25 * forecast.energy_kcal, rel=0.02)
    assert energy["ridden_power"].before == pytest.approx(forecast.mean_power_w, rel=1e-6)
    assert energy["ridden_power"].after == pytest.approx(1.25 * forecast.mean_power_w, rel=0.01)
    # More of the lost mass was burnt fuel and breath, so less of it was sweat.
    gone_kg = 0.2e-3 * (energy["energy"].after - forecast.energy_kcal)
    assert before.sweat_loss_l - after.sweat_loss_l == pytest.approx(gone_kg, rel=0.02)


def test_the_forecast_of_the_ridden_stage_stays_what_it_was(race):
    repository, facts, stage = race
    before = repository.heads["stage_forecast:r1:s1"].sha, _settled(repository)

    _keep(facts, stage, _recorded(stage, power_w=300.0))
    after = _settled(repository)

    assert repository.heads["stage_forecast:r1:s1"].sha == before[0]
    assert (after.predicted_q10_l, after.predicted_q50_l, after.predicted_q90_l) == (
        before[1].predicted_q10_l, before[1].predicted_q50_l, before[1].predicted_q90_l
    )


def test_a_harder_ride_than_predicted_is_not_learnt_as_a_heavier_sweater(race):
    repository, facts, stage = race
    predicted = _settled(repository)
    forecast = repository.record("stage_forecast:r1:s1", StageForecast)

    _keep(facts, stage, _recorded(stage, hours=forecast.duration_h, power_w=1.25 * forecast.mean_power_w))

    assert _settled(repository).factor_after < predicted.factor_after


def test_the_last_ride_read_in_counts_and_a_void_takes_it_back(race):
    repository, facts, stage = race
    before = _settled(repository).model_sweat_l

    first = _keep(facts, stage, _recorded(stage, power_w=300.0))
    once = _settled(repository).model_sweat_l
    second = _keep(facts, stage, _recorded(stage, power_w=200.0))
    twice = _settled(repository).model_sweat_l
    for ref in (first, second):
        facts.add("void", "r1", {}, at_ms=stage.start_at_ms + 8 * HOUR_MS, ref=ref, stage_id="s1")
    recompute(repository, TEAM, Changed(frozenset({"r1"}), frozenset({"void", "ridden"}), frozenset({"s1"})))

    assert once > twice
    assert repository.record("settlement:r1:s1", Settlement).model_sweat_l == before


def test_what_is_doubtful_about_a_file_stands_at_the_settlement(race):
    repository, facts, stage = race
    recorded = _recorded(stage)
    power_w = recorded.records.power_w.copy()
    power_w[:: 3] = np.nan
    patchy = RecordedRide("fit", RideRecords(
        at_unix_s=recorded.records.at_unix_s, power_w=power_w, travelled_m=0.9 * recorded.records.travelled_m,
    ), None)

    _keep(facts, stage, patchy)
    flags = {flag.quantity for flag in _settled(repository).flags if flag.code == "ride_file"}

    assert flags == {"missing_power_frac", "stretch_frac"}


def test_a_rider_s_file_changes_nobody_else_s_settlement(race):
    repository, facts, stage = race
    facts.ride_a_stage("r2", stage, before_kg=70.0, after_kg=68.8, agreed_l=2.8)
    before = _settled(repository, "r2")

    _keep(facts, stage, _recorded(stage, power_w=300.0))
    _settled(repository)

    assert _settled(repository, "r2").model_sweat_l == before.model_sweat_l
