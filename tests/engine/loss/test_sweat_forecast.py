"""The forecast repeats, widens and warns."""

from dataclasses import replace
from statistics import NormalDist
from time import perf_counter
from types import SimpleNamespace

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.loss.sweat_forecast import RiderState, sweat_forecast, sweat_over_segments_l

RIDER = RiderState(68.0, 1.78, 0.22, 0.0, 0.25, 0.0, 40.0, 9.0)


def _segments(n=20, hours=4.0, **columns):
    base = {"duration_h": hours / n, "power_w": 200.0, "air_temperature_c": 22.0, "relative_humidity_frac": 0.5,
            "air_speed_m_per_s": 6.67, "radiant_temperature_c": 30.0}
    return SimpleNamespace(**{name: np.full(n, value) for name, value in (base | columns).items()})


def test_the_same_inputs_give_the_same_bytes():
    one, other = sweat_forecast(_segments(), RIDER), sweat_forecast(_segments(), RIDER)

    assert one.total_draws_l.tobytes() == other.total_draws_l.tobytes()
    assert one.cumulative_quantiles_l.tobytes() == other.cumulative_quantiles_l.tobytes()


def test_shapes_are_as_promised():
    forecast = sweat_forecast(_segments(n=7), RIDER)

    assert forecast.cumulative_quantiles_l.shape == (3, 7)
    assert forecast.total_draws_l.shape == (256,)
    assert forecast.twenty_l.shape == (20,)
    assert forecast.model_cumulative_l.shape == (7,)


def test_the_spread_of_an_unknown_rider_is_factor_day_and_input_together():
    forecast = sweat_forecast(_segments(), RIDER)

    spread_log = np.log(forecast.cumulative_quantiles_l[2, -1] / forecast.cumulative_quantiles_l[0, -1]) / 2.0

    expected_log = np.sqrt(0.25**2 + 0.15**2 + 0.15**2) * NormalDist().inv_cdf(0.9)
    assert forecast.max_wettedness_frac < 0.6
    assert spread_log == pytest.approx(expected_log, rel=0.01)


def test_the_median_is_the_model_times_factor_and_team_offset():
    rider = replace(RIDER, factor_log_mean=0.1, team_offset_log=0.05)
    forecast = sweat_forecast(_segments(), rider)

    ratio = forecast.cumulative_quantiles_l[1, -1] / forecast.model_cumulative_l[-1]
    assert ratio == pytest.approx(np.exp(0.15), rel=0.002)


def test_measured_power_and_a_known_factor_narrow_the_band():
    wide = sweat_forecast(_segments(), RIDER)
    narrow = sweat_forecast(_segments(), replace(RIDER, factor_log_sd=0.08, is_power_measured=True))

    assert np.ptp(narrow.total_draws_l) < np.ptp(wide.total_draws_l)


def test_humid_heat_widens_the_band_and_shows_the_cap():
    mild = sweat_forecast(_segments(), RIDER)
    humid = sweat_forecast(
        _segments(air_temperature_c=36.0, relative_humidity_frac=0.65, radiant_temperature_c=60.0), RIDER
    )

    def band(forecast):
        return forecast.cumulative_quantiles_l[2, -1] / forecast.cumulative_quantiles_l[0, -1]

    assert humid.share_at_cap_frac == pytest.approx(1.0)
    assert band(humid) > band(mild)


def test_leaving_the_range_of_the_chain_is_said_not_raised():
    forecast = sweat_forecast(_segments(air_temperature_c=44.0), RIDER)

    assert [(v.quantity, v.value, v.high) for v in forecast.violations] == [("air_temperature_c", 44.0, 40.0)]


def test_sweat_starts_from_rest_and_is_short_by_one_time_constant():
    total_l = sweat_over_segments_l(np.full(10, 1.2), duration_h=np.full(10, 0.5)).sum()

    assert total_l == pytest.approx(1.2 * (5.0 - 1.0 / 6.0), rel=1e-9)


def test_a_stage_without_segments_is_refused():
    with pytest.raises(UnphysicalInput):
        sweat_forecast(_segments(n=1).__class__(**{k: v[:0] for k, v in vars(_segments(n=1)).items()}), RIDER)


def test_a_long_stage_takes_milliseconds():
    segments = _segments(n=200)
    sweat_forecast(segments, RIDER)

    took_s = []
    for _ in range(5):
        began = perf_counter()
        sweat_forecast(segments, RIDER)
        took_s.append(perf_counter() - began)

    assert min(took_s) < 0.02


def test_four_times_the_draws_tell_the_same_story():
    usual, more = sweat_forecast(_segments(), RIDER), sweat_forecast(_segments(), RIDER, n_draws=1024)

    assert more.total_draws_l.shape == (1024,)
    np.testing.assert_allclose(more.cumulative_quantiles_l, usual.cumulative_quantiles_l, rtol=0.01)
    assert more.sodium_q50_mg == pytest.approx(usual.sodium_q50_mg, rel=0.02)


def test_one_draw_is_no_forecast():
    with pytest.raises(UnphysicalInput, match="n_draws"):
        sweat_forecast(_segments(), RIDER, n_draws=1)
