"""Sunlight adds up, and the sun keeps its hours."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.stage.sun import (
    clear_sky_gain,
    clear_sky_w_per_m2,
    cloud_factor,
    shaded,
    split_irradiance,
    sun_position,
)
from engine.stage.skies import NOON_S


def test_the_summer_noon_sun_is_high_and_in_the_south():
    sun = sun_position(NOON_S, latitude_deg=44.0, longitude_deg=0.0)

    assert sun.elevation_deg == pytest.approx(67.4, abs=0.5)
    assert sun.azimuth_deg == pytest.approx(180.0, abs=6.0)


def test_the_sun_rises_in_the_east_and_sets_in_the_west():
    sun = sun_position(NOON_S + 3600.0 * np.array([-5.0, 5.0]), latitude_deg=44.0, longitude_deg=0.0)

    assert 60.0 < sun.azimuth_deg[0] < 120.0
    assert 240.0 < sun.azimuth_deg[1] < 300.0


def test_south_of_the_equator_the_noon_sun_is_in_the_north():
    azimuth_deg = float(sun_position(NOON_S, latitude_deg=-34.0, longitude_deg=0.0).azimuth_deg)

    assert min(azimuth_deg, 360.0 - azimuth_deg) < 6.0


def test_an_hour_of_wrong_zone_moves_the_sun_by_its_longitude():
    late = sun_position(NOON_S + 3600.0, latitude_deg=44.0, longitude_deg=0.0)
    east = sun_position(NOON_S, latitude_deg=44.0, longitude_deg=15.0)

    assert late.elevation_deg == pytest.approx(east.elevation_deg, abs=0.02)


def test_night_gives_no_light():
    assert clear_sky_w_per_m2(np.array([-40.0, -1.0, 0.0])) == pytest.approx(0.0, abs=1e-9)


def test_beam_and_diffuse_add_up_to_global():
    elevation_deg = np.linspace(4.0, 89.0, 60)
    light = split_irradiance(clear_sky_w_per_m2(elevation_deg), sun_elevation_deg=elevation_deg)
    beam_w_per_m2 = light.direct_normal_w_per_m2 * np.sin(np.radians(elevation_deg))

    assert light.diffuse_w_per_m2 + beam_w_per_m2 == pytest.approx(light.global_w_per_m2)
    assert (light.diffuse_w_per_m2 >= 0.0).all()


def test_an_overcast_sky_is_all_diffuse():
    light = split_irradiance(100.0, sun_elevation_deg=60.0)

    assert light.diffuse_w_per_m2 / light.global_w_per_m2 > 0.98


def test_light_at_the_horizon_is_all_diffuse():
    light = split_irradiance(30.0, sun_elevation_deg=1.0)

    assert light.direct_normal_w_per_m2 == 0.0


def test_full_shade_takes_the_beam_and_leaves_the_sky():
    light = split_irradiance(900.0, sun_elevation_deg=60.0)

    dark = shaded(light, shade_frac=1.0)

    assert dark.global_w_per_m2 == pytest.approx(light.diffuse_w_per_m2)
    assert dark.direct_normal_w_per_m2 == 0.0
    assert shaded(light, shade_frac=0.0).global_w_per_m2 == pytest.approx(900.0)


def test_thin_air_gives_at_most_a_fifth_more():
    assert clear_sky_gain(np.array([-50.0, 0.0, 1000.0, 9000.0])) == pytest.approx([1.0, 1.0, 1.08, 1.2])


def test_impossible_light_raises():
    for call in (lambda: cloud_factor(1.5), lambda: split_irradiance(-1.0, sun_elevation_deg=50.0),
                 lambda: sun_position(np.nan, latitude_deg=44.0, longitude_deg=5.0),
                 lambda: sun_position(0.0, latitude_deg=91.0, longitude_deg=5.0)):
        with pytest.raises(UnphysicalInput):
            call()
