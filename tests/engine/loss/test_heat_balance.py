"""Sun, wind and coasting in the heat balance."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.loss.heat_balance import heat_balance, mean_radiant_temperature_c
from brinebook.engine.loss.wbgt import wbgt_simple_c

AIR = {"mass_kg": 68.0, "height_m": 1.78, "air_temperature_c": 25.0, "relative_humidity_frac": 0.5,
       "air_speed_m_per_s": 6.67, "radiant_temperature_c": 25.0}
DARK = {"global_w_per_m2": 0.0, "diffuse_w_per_m2": 0.0, "direct_normal_w_per_m2": 0.0, "elevation_deg": -10.0}


def test_a_coasting_rider_still_makes_heat():
    heat = heat_balance(0.0, **AIR)

    assert float(heat.metabolic_power_w) == 160.0


def test_a_light_push_on_the_pedals_never_cools_the_rider():
    heat = heat_balance(np.linspace(0.0, 80.0, 81), **AIR)

    assert (np.diff(heat.heat_production_w_per_m2) >= -1e-12).all()


def test_without_sun_more_wind_never_means_more_sweat():
    speeds = np.linspace(1.0, 20.0, 40)

    assert (np.diff(heat_balance(230.0, **(AIR | {"air_speed_m_per_s": speeds})).sweat_rate_l_per_h) <= 1e-12).all()


def test_sweat_covers_the_evaporation_it_has_to_pay_for():
    heat = heat_balance(np.linspace(0.0, 300.0, 31), **AIR)

    needed = heat.required_evaporation_w_per_m2 * 3600.0 / 2426.0
    assert ((heat.sweat_rate_g_per_m2_h >= needed) | heat.is_at_cap).all()


def test_saturated_air_warmer_than_skin_takes_no_water_and_sends_sweat_to_the_cap():
    heat = heat_balance(300.0, **(AIR | {"air_temperature_c": 42.0, "relative_humidity_frac": 1.0}))

    assert bool(heat.is_at_cap)
    assert float(heat.max_evaporation_w_per_m2) < 0.0


def test_at_night_the_surroundings_are_as_warm_as_the_air():
    assert float(mean_radiant_temperature_c(18.0, **DARK)) == pytest.approx(18.0)


def test_a_sun_below_the_horizon_sends_no_beam():
    beam = DARK | {"direct_normal_w_per_m2": 500.0}

    assert float(mean_radiant_temperature_c(18.0, **beam)) == pytest.approx(18.0)


@pytest.mark.parametrize(("field", "value"), [
    ("relative_humidity_frac", 1.01), ("relative_humidity_frac", -0.01), ("air_speed_m_per_s", -1.0),
    ("mass_kg", 0.0), ("height_m", -1.0), ("air_temperature_c", float("nan")), ("gross_efficiency_frac", 0.0),
])
def test_air_or_body_that_cannot_be_is_refused(field, value):
    with pytest.raises(UnphysicalInput):
        heat_balance(200.0, **(AIR | {field: value}))


def test_a_vapour_pressure_below_zero_is_refused():
    with pytest.raises(UnphysicalInput):
        wbgt_simple_c(20.0, vapour_pressure_kpa=-0.1)
