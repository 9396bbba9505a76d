"""Outdoor WBGT against lwbgt, the reference C kernel of Liljegren, and the simple form against both."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.loss.heat_balance import saturation_pressure_kpa
from brinebook.engine.loss.wbgt import wbgt_liljegren2008_c, wbgt_simple_c
from brinebook.engine.stage.sun import clear_sky_w_per_m2, split_irradiance, sun_position
from hypothesis import given, settings
from hypothesis import strategies as st
from lwbgt import Input, calculate

N = 300
NOON_S = 1_783_684_800.0  # 2026-07-10 12:00 UTC


def _skies(seed):
    """Return air, humidity, wind, irradiance and the hour, between eight in the morning and five in the afternoon."""
    random = np.random.default_rng(seed)
    hours = random.integers(-4, 6, N)
    sun = sun_position(NOON_S + 3600.0 * hours, latitude_deg=44.0, longitude_deg=4.0)
    solar = clear_sky_w_per_m2(sun.apparent_elevation_deg) * random.uniform(0.3, 1.0, N)
    return (random.uniform(10.0, 42.0, N), random.uniform(0.2, 0.95, N), random.uniform(1.0, 9.0, N), solar, hours, sun)


def _ours(air, humidity, wind, solar, sun):
    light = split_irradiance(solar, sun_elevation_deg=sun.elevation_deg, orbit_frac=sun.orbit_frac)
    return wbgt_liljegren2008_c(
        air, relative_humidity_frac=humidity, wind_m_per_s=wind, pressure_pa=101_325.0, solar_w_per_m2=solar,
        direct_frac=np.clip((solar - light.diffuse_w_per_m2) / solar, 0.0, 1.0), sun_elevation_deg=sun.elevation_deg,
    )


def _theirs(air, humidity, wind, solar, hour):
    return calculate(Input(
        year=2026, month=7, day=10, hour=int(14 + hour), minute=0, gmt_offset_hours=2, averaging_minutes=0, urban=0,
        latitude_deg_north=44.0, longitude_deg_east=4.0, solar_w_m2=float(solar), pressure_hpa=1013.25,
        air_temperature_c=float(air), relative_humidity_percent=float(100.0 * humidity), wind_speed_m_s=float(wind),
        wind_height_m=10.0, vertical_temperature_difference_c=-1.0,
    ))


def test_we_agree_with_the_reference_kernel():
    air, humidity, wind, solar, hours, sun = _skies(1)

    ours = _ours(air, humidity, wind, solar, sun)
    theirs = np.array([_theirs(*case).wbgt_c for case in zip(air, humidity, wind, solar, hours, strict=True)])

    # The two scale the wind to 2 m and the direct share each in its own way.
    assert np.abs(ours - theirs).max() < 0.7
    assert np.abs(ours - theirs).mean() < 0.2


def test_the_simple_form_reads_high_by_so_much():
    air, humidity, wind, solar, _, sun = _skies(2)
    simple = wbgt_simple_c(air, vapour_pressure_kpa=humidity * saturation_pressure_kpa(air))

    excess = simple - _ours(air, humidity, wind, solar, sun)

    print(f"\nsimple less Liljegren by day: mean {excess.mean():+.1f}, {excess.min():+.1f} to {excess.max():+.1f} C")
    assert excess.mean() > 1.0


WEATHER = {
    "air_temperature_c": st.floats(-5.0, 45.0), "relative_humidity_frac": st.floats(0.02, 1.0),
    "wind_m_per_s": st.floats(0.0, 20.0), "pressure_pa": st.floats(70_000.0, 105_000.0),
    "solar_w_per_m2": st.floats(0.0, 1.0), "direct_frac": st.floats(0.0, 1.0),
    "sun_elevation_deg": st.floats(-30.0, 85.0),
}


@settings(max_examples=40, deadline=None)
@given(st.fixed_dictionaries(WEATHER))
def test_nan_never_comes_out(weather):
    air_c = weather.pop("air_temperature_c")
    weather["solar_w_per_m2"] *= 1100.0 * max(0.0, np.sin(np.radians(weather["sun_elevation_deg"])))

    found = float(wbgt_liljegren2008_c(air_c, **weather))

    assert np.isfinite(found)
    assert air_c - 30.0 < found < air_c + 25.0


def test_an_array_is_a_loop_of_scalars():
    air, humidity, wind, solar, _, sun = _skies(3)
    together = _ours(air, humidity, wind, solar, sun)
    light = split_irradiance(solar, sun_elevation_deg=sun.elevation_deg, orbit_frac=sun.orbit_frac)

    alone = [
        float(wbgt_liljegren2008_c(
            air[i], relative_humidity_frac=humidity[i], wind_m_per_s=wind[i], pressure_pa=101_325.0,
            solar_w_per_m2=solar[i], sun_elevation_deg=sun.elevation_deg[i],
            direct_frac=np.clip((solar[i] - light.diffuse_w_per_m2[i]) / solar[i], 0.0, 1.0),
        )) for i in range(20)
    ]

    np.testing.assert_allclose(together[:20], alone, atol=1e-9)


@pytest.mark.parametrize("wrong", [{"wind_m_per_s": -1.0}, {"relative_humidity_frac": 1.2}, {"pressure_pa": 1013.0},
                                   {"solar_w_per_m2": float("nan")}])
def test_impossible_weather_is_refused(wrong):
    good = {"relative_humidity_frac": 0.5, "wind_m_per_s": 2.0, "pressure_pa": 101_325.0, "solar_w_per_m2": 600.0,
            "direct_frac": 0.7, "sun_elevation_deg": 50.0}

    with pytest.raises(UnphysicalInput, match=next(iter(wrong))):
        wbgt_liljegren2008_c(25.0, **(good | wrong))
