"""Models kept for comparison say by themselves that a bicycle is too fast for them."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.loss import comparison_models as models
from brinebook.engine.loss.heat_balance import heat_balance
from brinebook.engine.loss.solar_gain import projected_area_ashrae55_frac, solar_gain_ashrae55
from pythermalcomfort.models import solar_gain

FAMILY = (models.sweat_rate_shapiro1982_g_per_m2_h, models.sweat_rate_gonzalez2009_corrected_g_per_m2_h,
          models.sweat_rate_gonzalez2009_g_per_m2_h, models.sweat_rate_gonzalez2012_cool_g_per_m2_h)


@pytest.mark.parametrize("speed_m_per_s", [4.0, 6.67, 11.1])
def test_no_air_speed_of_a_bicycle_is_inside_the_family_s_data(speed_m_per_s):
    found = models.shapiro_family_violations(
        25.0, vapour_pressure_kpa=1.6, air_speed_m_per_s=speed_m_per_s, metabolic_rate_w_per_m2=400.0
    )

    assert [(violation.model, violation.quantity, violation.high) for violation in found] == [
        ("shapiro_family", "air_speed_m_per_s", 2.5)]


def test_a_march_is_inside_the_family_s_data():
    assert models.shapiro_family_violations(
        30.0, vapour_pressure_kpa=2.0, air_speed_m_per_s=1.0, metabolic_rate_w_per_m2=200.0) == ()


def test_at_cycling_speed_the_piecewise_equation_denies_the_heat_balance_it_came_from():
    heat = heat_balance(
        230.0, mass_kg=68.0, height_m=1.78, air_temperature_c=25.0, relative_humidity_frac=0.5,
        air_speed_m_per_s=11.11, radiant_temperature_c=25.0,
    )

    claimed = models.sweat_rate_gonzalez2009_g_per_m2_h(
        heat.required_evaporation_w_per_m2, max_evaporation_w_per_m2=heat.max_evaporation_w_per_m2)

    assert claimed < heat.required_evaporation_w_per_m2 * 3600.0 / 2426.0


@pytest.mark.parametrize("model", FAMILY, ids=lambda model: model.__name__)
def test_an_array_gives_what_a_loop_of_scalars_gives(model):
    required, capacity = np.array([100.0, 250.0, 400.0]), np.array([150.0, 300.0, 500.0])

    together = model(required, max_evaporation_w_per_m2=capacity)

    assert together.tolist() == [
        pytest.approx(float(model(r, max_evaporation_w_per_m2=c))) for r, c in zip(required, capacity, strict=True)]


@pytest.mark.parametrize("model", FAMILY, ids=lambda model: model.__name__)
def test_a_missing_number_is_refused(model):
    with pytest.raises(UnphysicalInput):
        model(float("nan"), max_evaporation_w_per_m2=200.0)


def test_an_unknown_author_has_no_convection():
    with pytest.raises(UnphysicalInput, match="nobody"):
        models.convection_by_author_w_per_m2_k(5.0, author="nobody")


def test_the_solar_gain_agrees_with_an_open_library_over_the_whole_sky():
    elevation, angle = np.meshgrid(np.linspace(0.0, 90.0, 19), np.linspace(0.0, 180.0, 25))

    found = solar_gain_ashrae55(elevation, sun_angle_deg=angle, direct_normal_w_per_m2=850.0, sky_view_frac=0.7,
                                exposed_frac=0.9, transmittance_frac=1.0)
    theirs = solar_gain(
        sol_altitude=elevation, sharp=angle, sol_radiation_dir=850.0, sol_transmittance=1.0, f_svv=0.7, f_bes=0.9,
        asw=0.7, posture="sitting", floor_reflectance=0.6, round_output=False,
    )

    np.testing.assert_allclose(found.effective_field_w_per_m2, theirs.erf, rtol=1e-7)
    np.testing.assert_allclose(found.radiant_rise_c, theirs.delta_mrt, rtol=1e-7)


def test_a_sun_below_the_table_is_refused():
    with pytest.raises(UnphysicalInput, match="elevation_deg"):
        projected_area_ashrae55_frac(-1.0, sun_angle_deg=0.0)
