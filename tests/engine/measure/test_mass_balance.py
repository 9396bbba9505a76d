"""Weighings: what is refused, and where the spread comes from."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.measure.mass_balance import stage_sweat_loss, weighed_ride

RIDE = {"mass_before_kg": 70.0, "mass_after_kg": 69.0, "fluid_drunk_l": 0.5, "food_kg": 0.0, "urine_l": 0.0,
        "duration_h": 1.0, "power_w": 220.0, "gross_efficiency_frac": 0.22, "vapour_pressure_kpa": 1.6}
STAGE = {"mass_before_kg": 70.0, "mass_after_kg": 68.4, "drunk_l": 3.0, "food_kg": 0.35, "urine_l": 0.2,
         "energy_kcal": 4000.0, "drunk_sd_l": 0.0}


@pytest.mark.parametrize("duration_h", [0.17, 0.99, float("nan")])
def test_a_ride_under_an_hour_gives_no_sweat_rate(duration_h):
    with pytest.raises(UnphysicalInput, match="duration_h"):
        weighed_ride(**(RIDE | {"duration_h": duration_h}))


def test_sweat_breath_and_gas_make_up_the_whole_loss():
    ride = weighed_ride(**RIDE)

    assert ride.sweat_l + ride.respiratory_kg + ride.gas_kg == pytest.approx(1.5, abs=1e-12)
    assert ride.sweat_rate_l_per_h == ride.sweat_l


@pytest.mark.parametrize(("scale_sd_kg", "sweat_sd_l"), [(0.05, 0.071), (0.02, 0.028)])
def test_the_scale_sets_the_spread_of_an_hour(scale_sd_kg, sweat_sd_l):
    ride = weighed_ride(**(RIDE | {"power_w": 0.0, "scale_sd_kg": scale_sd_kg}))

    assert ride.sweat_sd_l == pytest.approx(sweat_sd_l, abs=0.001)


def test_the_spread_of_a_stage_adds_scale_bottles_urine_and_energy():
    _, sd_l = stage_sweat_loss(**(STAGE | {"drunk_sd_l": 0.2}))

    assert sd_l**2 == pytest.approx(2 * 0.1**2 + 0.2**2 + 0.1**2 + 0.08**2)


@pytest.mark.parametrize("field", ["mass_before_kg", "drunk_l", "energy_kcal", "drunk_sd_l"])
def test_a_negative_mass_volume_or_energy_is_refused(field):
    with pytest.raises(UnphysicalInput):
        stage_sweat_loss(**(STAGE | {field: -1.0}))


def test_sweat_in_the_kit_is_sweat_and_stool_is_not():
    plain, _ = stage_sweat_loss(**STAGE)
    full, _ = stage_sweat_loss(**STAGE, kit_sweat_kg=0.2, faeces_kg=0.15)
    ride, ride_full = weighed_ride(**RIDE), weighed_ride(**RIDE, kit_sweat_kg=0.2, faeces_kg=0.15)

    assert full - plain == pytest.approx(0.05)
    assert ride_full.sweat_l - ride.sweat_l == pytest.approx(0.05)


@pytest.mark.parametrize("field", ["kit_sweat_kg", "faeces_kg"])
def test_a_negative_kit_or_stool_is_refused(field):
    with pytest.raises(UnphysicalInput, match=field):
        weighed_ride(**(RIDE | {field: -0.1}))
