"""The made-up race is plausible, and the same each time."""

import csv
import io
import random
import statistics
import uuid
from datetime import datetime
from itertools import pairwise

import gpxpy
import pytest

from seed_demo import race
from seed_demo.courses import gpx_text, profile
from seed_demo.devices import uuid7
from seed_demo.pantry import DRINKS
from seed_demo.physiology import hidden_riders, stage_truth
from seed_demo.squad import RIDERS, STAFF
from seed_demo.trouble import PLANTED
from seed_demo.weather import forecast_csv, weather_hours

STAGES = race.stages()


def test_the_race_has_21_stages_and_two_rest_days_in_23_days():
    assert [stage.number for stage in STAGES] == list(range(1, 22))
    assert {stage.day_index for stage in STAGES} | set(race.REST_DAYS) == set(range(1, 24))
    assert {race.week_of(stage) for stage in STAGES} == {1, 2, 3}


def test_the_race_has_every_kind_of_day():
    assert {stage.kind for stage in STAGES} == {"flat", "hilly", "mountain", "time_trial", "mountain_time_trial"}
    assert min(stage.max_temperature_c for stage in STAGES) < 16
    assert sum(stage.is_hot for stage in STAGES) >= 5


def test_the_squad_varies_in_size_role_and_saltiness():
    sodium = [rider.whole_body_mmol_per_l for rider in hidden_riders().values()]

    assert len({rider.race_role for rider in RIDERS}) == 4
    assert max(rider.mass_kg for rider in RIDERS) - min(rider.mass_kg for rider in RIDERS) > 15
    assert max(sodium) / min(sodium) > 2
    assert len(STAFF) == 6
    assert len({card.name for card in (*RIDERS, *STAFF)}) == 14
    assert {drink["sodium_mg_per_l"] for drink in DRINKS} >= {0.0, 800.0, 1400.0}


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.id)
def test_a_course_is_valid_gpx_of_the_stage_length(stage):
    points = gpxpy.parse(gpx_text(stage)).tracks[0].segments[0].points
    measured_km = sum(a.distance_2d(b) for a, b in pairwise(points)) / 1000.0
    grades = [(b - a) / 100.0 for (_, a), (_, b) in pairwise(profile(stage))]

    assert measured_km == pytest.approx(stage.length_km, rel=0.005)
    assert max(abs(grade) for grade in grades) < 0.2
    assert all(0 <= point.elevation < 3000 for point in points)


def test_mountain_stages_climb_more_than_flat_ones():
    gain_m = {kind: [] for kind in ("flat", "hilly", "mountain")}
    for stage in STAGES:
        if stage.kind in gain_m:
            gain_m[stage.kind].append(sum(max(0.0, b - a) for (_, a), (_, b) in pairwise(profile(stage))))

    assert max(gain_m["flat"]) < min(gain_m["hilly"])
    assert statistics.fmean(gain_m["hilly"]) < statistics.fmean(gain_m["mountain"])


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.id)
def test_a_forecast_covers_the_stage_with_offsets_and_possible_humidity(stage):
    rows = list(csv.DictReader(io.StringIO(forecast_csv(stage, "eve"))))
    instants = [datetime.fromisoformat(row["time"]) for row in rows]
    start_s = stage.start_at_ms / 1000

    assert all(instant.utcoffset() is not None for instant in instants)
    assert min(instant.timestamp() for instant in instants) <= start_s - 3600
    assert max(instant.timestamp() for instant in instants) >= start_s + 3600 * (stage.scheduled_duration_h + 1)
    assert all(1 <= float(row["rh_pct"]) <= 100 for row in rows)


def test_the_eves_forecast_is_nearer_the_truth_than_the_early_one():
    def error_c(stage, issue):
        guess, truth = (weather_hours(stage, name)[5].air_temperature_c for name in (issue, "truth"))
        return abs(guess - truth)

    early, eve = ([error_c(stage, issue) for stage in STAGES] for issue in ("early", "eve"))

    assert statistics.fmean(eve) < statistics.fmean(early)


def test_feed_points_start_at_zero_and_rise():
    for stage in STAGES:
        kms = [point["km"] for point in race.feed_points(stage)]
        assert kms[0] == 0.0
        assert kms == sorted(set(kms))
        assert kms[-1] <= stage.length_km - race.NO_FEED_LAST_KM or len(kms) == 1


def test_true_losses_are_possible_and_repeat():
    for stage in STAGES[:3]:
        for card in RIDERS:
            truth = stage_truth(card.id, stage)
            assert 0.2 < truth.sweat_l / truth.duration_h < 2.8
            assert 0 < truth.not_sweat_kg < 1.5
            assert truth == stage_truth.__wrapped__(card.id, stage)


def test_hot_days_cost_more_than_cool_ones():
    cool, hot = STAGES[9], STAGES[6]

    assert cool.max_temperature_c < 20 < hot.max_temperature_c
    for card in RIDERS:
        assert stage_truth(card.id, hot).sweat_l > stage_truth(card.id, cool).sweat_l


def test_planted_trouble_names_riders_and_stages_that_exist():
    ids = {card.id for card in RIDERS} | {""}

    assert {trouble.rider_id for trouble in PLANTED} <= ids
    assert all(1 <= number <= 21 for trouble in PLANTED for number in trouble.stages)


def test_ids_are_uuids_of_version_7_in_order_of_time():
    rng = random.Random(1)  # noqa: S311 - a seeded draw, not a secret
    ids = [uuid7(1_780_000_000_000 + step, rng) for step in range(50)]

    assert ids == sorted(ids)
    assert {uuid.UUID(text).version for text in ids} == {7}
    assert {uuid.UUID(text).variant for text in ids} == {uuid.RFC_4122}
