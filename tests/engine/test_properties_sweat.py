"""What must hold for any rider, road and weather."""

from types import SimpleNamespace

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.loss.heat_balance import heat_balance
from brinebook.engine.loss.sweat_forecast import RiderState, sweat_forecast, sweat_over_segments_l
from brinebook.engine.measure.sodium_estimate import SodiumTest, sodium_estimate
from brinebook.engine.settle.learn import FactorState, update_factor
from hypothesis import example, given, settings
from hypothesis import strategies as st

FEW = settings(max_examples=60, deadline=None)
RIDER = RiderState(68.0, 1.78, 0.22, 0.0, 0.25, 0.0, 40.0, 9.0)

powers = st.floats(0.0, 450.0)
airs = st.floats(-5.0, 42.0)
humidities = st.floats(0.05, 1.0)
speeds = st.floats(0.0, 20.0)
suns = st.floats(0.0, 40.0)


def _heat(power_w, air_c, humidity_frac, speed_m_per_s, radiant_c):
    return heat_balance(
        power_w, mass_kg=68.0, height_m=1.78, air_temperature_c=air_c, relative_humidity_frac=humidity_frac,
        air_speed_m_per_s=speed_m_per_s, radiant_temperature_c=radiant_c,
    )


def _rate(*place):
    return float(_heat(*place).sweat_rate_l_per_h)


def _segments(duration_h, power_w, air_c=30.0):
    n = len(duration_h)
    return SimpleNamespace(
        duration_h=np.asarray(duration_h, dtype=float), power_w=np.broadcast_to(np.asarray(power_w, float), n),
        air_temperature_c=np.full(n, air_c), relative_humidity_frac=np.full(n, 0.5),
        air_speed_m_per_s=np.full(n, 6.67), radiant_temperature_c=np.full(n, air_c + 20.0),
    )


@FEW
@given(powers, airs, humidities, speeds, suns)
@example(0.0, 39.0, 1.0, 0.0, 0.0)
def test_no_rider_takes_in_water_through_the_skin_or_sweats_beyond_the_cap(power, air, humidity, speed, sun):
    heat = _heat(power, air, humidity, speed, air + sun)

    assert float(heat.sweat_rate_l_per_h) > 0.0
    assert float(heat.sweat_rate_g_per_m2_h) <= 1190.0
    assert float(heat.respiratory_l_per_h) >= 0.0
    assert float(heat.wettedness_frac) > 0.0


@FEW
@given(powers, st.floats(0.0, 100.0), airs, humidities, speeds)
@example(0.0, 1.0, 0.0, 1.0, 0.0)
def test_more_power_never_means_less_sweat(power, more, air, humidity, speed):
    assert _rate(power + more, air, humidity, speed, air) >= _rate(power, air, humidity, speed, air) - 1e-9


@FEW
@given(powers, airs, st.floats(0.0, 10.0), humidities, speeds)
def test_warmer_air_never_means_less_sweat(power, air, warmer, humidity, speed):
    warm = air + warmer

    assert _rate(power, warm, humidity, speed, warm) >= _rate(power, air, humidity, speed, air) - 1e-9


@FEW
@given(st.lists(st.tuples(powers, airs, humidities, speeds, suns), min_size=1, max_size=6))
def test_an_array_gives_what_a_loop_of_scalars_gives(places):
    power, air, humidity, speed, sun = (np.array(column) for column in zip(*places, strict=True))

    together = _heat(power, air, humidity, speed, air + sun).sweat_rate_l_per_h

    alone = [_rate(p, a, h, v, a + s) for p, a, h, v, s in places]
    np.testing.assert_allclose(together, alone, rtol=1e-12)


@FEW
@given(st.lists(st.tuples(st.floats(0.01, 1.0), st.floats(0.0, 2.2)), min_size=1, max_size=8), st.floats(0.05, 0.95))
def test_splitting_a_segment_changes_no_litre(parts, share):
    hours, rates = (np.array(column) for column in zip(*parts, strict=True))
    split_hours = np.ravel(np.column_stack([hours * share, hours * (1.0 - share)]))

    whole = sweat_over_segments_l(rates, duration_h=hours)
    split = sweat_over_segments_l(np.repeat(rates, 2), duration_h=split_hours)

    np.testing.assert_allclose(split.reshape(-1, 2).sum(axis=1), whole, atol=1e-12)


@FEW
@given(st.floats(0.5, 7.0), st.floats(50.0, 350.0), st.integers(1, 12))
def test_cutting_a_stage_finer_changes_no_forecast(stage_h, power, n):
    whole = sweat_forecast(_segments([stage_h], power), RIDER)
    cut = sweat_forecast(_segments([stage_h / n] * n, power), RIDER)

    np.testing.assert_allclose(cut.total_draws_l, whole.total_draws_l, rtol=1e-9)
    assert cut.respiratory_l == pytest.approx(whole.respiratory_l)


@FEW
@given(st.lists(powers, min_size=1, max_size=12))
def test_sweat_only_adds_up_and_its_quantiles_keep_their_order(power):
    forecast = sweat_forecast(_segments([0.2] * len(power), power), RIDER)
    low, middle, high = forecast.cumulative_quantiles_l

    assert (np.diff(forecast.cumulative_quantiles_l, axis=1, prepend=0.0) >= 0.0).all()
    assert (low <= middle).all()
    assert (middle <= high).all()
    assert (np.diff(forecast.twenty_l) >= 0.0).all()
    assert forecast.sodium_q10_mg <= forecast.sodium_q50_mg <= forecast.sodium_q90_mg


@FEW
@given(st.floats(8.0, 120.0), st.floats(0.0, 300.0), st.floats(0.0, 0.2))
def test_an_older_or_poorer_sodium_test_weighs_less(sodium, age_days, extra):
    fresh = sodium_estimate([SodiumTest(0.0, (sodium,))], at_day=0.0)
    worse = sodium_estimate([SodiumTest(0.0, (sodium,), extra)], at_day=age_days)

    assert worse.weights_frac[0] <= fresh.weights_frac[0] + 1e-12
    assert worse.log_sd >= fresh.log_sd - 1e-12
    assert worse.low_mmol_per_l <= worse.mean_mmol_per_l <= worse.high_mmol_per_l


@FEW
@given(st.floats(-0.5, 0.5), st.floats(0.02, 0.5), st.floats(0.5, 12.0), st.floats(0.3, 12.0), st.floats(0.05, 1.0))
def test_a_weighing_moves_the_factor_towards_it_and_never_past_it(mean, sd, model, observed, observed_sd):
    update = update_factor(
        FactorState(mean, sd), model_l=model, observed_l=observed, observed_sd_l=observed_sd, n_days_since=0.0
    )

    if update.is_rejected:
        assert update.state.log_mean == mean
    else:
        low, high = sorted((mean, update.z))
        assert low - 1e-12 <= update.state.log_mean <= high + 1e-12
        assert update.state.log_sd <= sd


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -1.0])
def test_an_impossible_power_is_refused_with_its_place(bad):
    with pytest.raises(UnphysicalInput) as refused:
        _heat(np.array([200.0, bad]), 25.0, 0.5, 6.0, 25.0)

    assert (refused.value.name, refused.value.indices) == ("power_w", (1,))
