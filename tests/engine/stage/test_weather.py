"""The forecast between hours, between points, and up the hill."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.stage.weather import HourlyWeather, uncovered_h, weather_along
from engine.stage.skies import NOON_S, hourly, joined


def _met(weather, *, at_h=0.0, km=0.0, elevation_m=0.0):
    return weather_along(
        weather, at_unix_s=np.array([NOON_S + 3600.0 * at_h]), km=np.array([km]), elevation_m=np.array([elevation_m])
    )


def test_at_its_hour_and_point_the_forecast_is_itself():
    met = _met(hourly(air_c=31.0, humidity_frac=0.35, cloud_frac=0.2, solar_w_per_m2=700.0))

    assert met.air_temperature_c[0] == pytest.approx(31.0)
    assert met.relative_humidity_frac[0] == pytest.approx(0.35)
    assert (met.cloud_frac[0], met.solar_w_per_m2[0]) == (0.2, 700.0)


def test_half_way_between_two_points_is_half_way_between_their_weather():
    weather = joined(hourly(air_c=20.0), hourly(air_c=30.0, km=100.0))

    assert _met(weather, km=50.0).air_temperature_c[0] == pytest.approx(25.0)
    assert _met(weather, km=130.0).air_temperature_c[0] == pytest.approx(30.0)


def test_the_order_of_the_rows_does_not_matter():
    weather = joined(hourly(air_c=20.0), hourly(air_c=30.0, km=100.0))
    order = np.random.default_rng(7).permutation(weather.km.size)
    shuffled = HourlyWeather(**{name: column[order] for name, column in vars(weather).items()})

    assert _met(shuffled, km=40.0).air_temperature_c == pytest.approx(_met(weather, km=40.0).air_temperature_c)


def test_humid_air_carried_uphill_is_cooler_and_nearer_to_saturation():
    met = _met(hourly(air_c=30.0, humidity_frac=0.4), elevation_m=1500.0)

    assert met.air_temperature_c[0] == pytest.approx(20.25)
    assert 0.4 < met.relative_humidity_frac[0] < 1.0


def test_saturated_air_carried_uphill_stays_saturated():
    assert _met(hourly(humidity_frac=1.0), elevation_m=2000.0).relative_humidity_frac[0] == 1.0


def test_opposite_winds_cancel_half_way():
    north = hourly(wind_m_per_s=6.0)
    south = HourlyWeather(**{**vars(hourly(wind_m_per_s=6.0, km=10.0)), "wind_from_deg": np.full(10, 180.0)})

    assert _met(joined(north, south), km=5.0).wind_m_per_s[0] == pytest.approx(0.0, abs=1e-9)


def test_wind_is_brought_down_to_the_rider():
    met = _met(hourly(wind_m_per_s=5.0))

    assert met.wind_m_per_s[0] == pytest.approx(3.0)
    assert met.wind_from_deg[0] == pytest.approx(0.0)


def test_a_point_without_irradiance_does_not_silence_another():
    weather = joined(hourly(solar_w_per_m2=800.0), hourly(km=100.0))

    assert _met(weather, km=0.0).solar_w_per_m2[0] == 800.0
    assert np.isnan(_met(weather, km=50.0).solar_w_per_m2[0])


def test_an_empty_forecast_raises():
    nothing = HourlyWeather(**{name: column[:0] for name, column in vars(hourly()).items()})

    with pytest.raises(UnphysicalInput):
        _met(nothing)


@pytest.mark.parametrize(
    ("name", "value"),
    [("air_temperature_c", np.nan), ("air_temperature_c", 90.0), ("relative_humidity_frac", 40.0), ("cloud_frac", 2.0),
     ("wind_m_per_s", -1.0)],
)
def test_a_number_no_weather_has_raises_by_name(name, value):
    weather = hourly()
    getattr(weather, name)[3] = value

    with pytest.raises(UnphysicalInput) as caught:
        _met(weather)

    assert (caught.value.name, caught.value.indices) == (name, (3,))


def test_hours_that_the_forecast_does_not_reach_are_counted():
    weather = hourly()

    assert uncovered_h(weather, start_at_unix_s=NOON_S, finish_at_unix_s=NOON_S + 4 * 3600) == 0.0
    assert uncovered_h(weather, start_at_unix_s=NOON_S - 3 * 3600, finish_at_unix_s=NOON_S) == 2.0
    assert uncovered_h(weather, start_at_unix_s=NOON_S, finish_at_unix_s=NOON_S + 9 * 3600) == 1.0
