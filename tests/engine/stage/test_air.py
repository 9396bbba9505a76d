"""Air keeps its own laws."""

import numpy as np
import pytest
from brinebook.engine.constants import road
from brinebook.engine.stage import air


def test_saturated_air_is_at_its_dew_point_and_wet_bulb():
    vapour_pa = air.saturation_vapour_pressure_pa(25.0)

    assert air.dew_point_c(vapour_pa) == pytest.approx(25.0)
    assert air.wet_bulb_c(25.0, relative_humidity_frac=1.0, pressure_pa=101_325.0) == pytest.approx(25.0, abs=1e-6)


def test_humid_air_is_lighter_than_dry_air():
    dry, humid = (
        air.air_density_kg_per_m3(30.0, vapour_pressure_pa=vapour_pa, pressure_pa=101_325.0) for vapour_pa in (0.0, 3e3)
    )

    assert humid < dry


def test_the_magnus_form_is_low_by_less_than_a_third_of_a_percent():
    temperatures_c = np.linspace(10.0, 40.0, 31)
    ratio = air.saturation_vapour_pressure_magnus_pa(temperatures_c) / air.saturation_vapour_pressure_pa(temperatures_c)

    assert (ratio < 1.0).all()
    assert (ratio > 1.0 - 1.0 / 300.0).all()


def test_at_sea_level_no_pressure_is_reduced():
    assert air.sea_level_pressure_pa(100_000.0, elevation_m=0.0, air_temperature_c=20.0) == pytest.approx(100_000.0)
    assert air.standard_pressure_pa(0.0) == road.SEA_LEVEL_PRESSURE_PA


def test_wind_at_two_metres_is_three_quarters_of_that_at_ten():
    assert air.wind_at_two_metres_m_per_s(1.0) == pytest.approx(0.748, abs=0.001)
