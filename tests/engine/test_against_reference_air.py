"""Our moist air against psychrolib, an independent library built on the ASHRAE handbook."""

from itertools import product

import numpy as np
import psychrolib
import pytest
from brinebook.engine.stage import air

psychrolib.SetUnitSystem(psychrolib.SI)
STATES = list(product((2.0, 12.0, 24.0, 33.0, 42.0), (0.15, 0.5, 0.9), (101_325.0, 80_000.0)))


@pytest.mark.parametrize("t_c", np.linspace(1.0, 50.0, 8))
def test_saturation_pressure_agrees_within_a_tenth_of_a_percent(t_c):
    assert air.saturation_vapour_pressure_pa(t_c) == pytest.approx(psychrolib.GetSatVapPres(t_c), rel=1e-3)


@pytest.mark.parametrize(("t_c", "rh", "p_pa"), STATES)
def test_moist_air_density_agrees(t_c, rh, p_pa):
    vapour_pa = air.vapour_pressure_pa(t_c, relative_humidity_frac=rh)
    ratio = psychrolib.GetHumRatioFromRelHum(t_c, rh, p_pa)
    theirs = psychrolib.GetMoistAirDensity(t_c, ratio, p_pa)

    ours = air.air_density_kg_per_m3(t_c, vapour_pressure_pa=vapour_pa, pressure_pa=p_pa)

    assert ours == pytest.approx(theirs, abs=2e-4)


@pytest.mark.parametrize(("t_c", "rh", "p_pa"), [state for state in STATES if state[0] > 20.0])
def test_wet_bulb_agrees(t_c, rh, p_pa):
    ours = air.wet_bulb_c(t_c, relative_humidity_frac=rh, pressure_pa=p_pa)

    assert ours == pytest.approx(psychrolib.GetTWetBulbFromRelHum(t_c, rh, p_pa), abs=0.03)


@pytest.mark.parametrize(("t_c", "rh"), [(12.0, 0.5), (24.0, 0.3), (24.0, 0.9), (33.0, 0.15), (42.0, 0.9)])
def test_dew_point_above_freezing_agrees(t_c, rh):
    ours = air.dew_point_c(air.vapour_pressure_pa(t_c, relative_humidity_frac=rh))

    assert ours == pytest.approx(psychrolib.GetTDewPointFromRelHum(t_c, rh), abs=0.03)


@pytest.mark.parametrize("height_m", [0.0, 250.0, 1200.0, 2600.0])
def test_standard_pressure_agrees(height_m):
    assert air.standard_pressure_pa(height_m) == pytest.approx(psychrolib.GetStandardAtmPressure(height_m), abs=0.5)
