"""Targets and the arithmetic of plasma sodium, beyond the published rows."""

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.plan.balance import (
    isonatric_cations_mmol_per_l,
    plasma_sodium_mmol_per_l,
    replacement_threshold_frac,
    sodium_share_frac,
    targets,
)


def test_the_targets_leave_two_percent_of_body_mass():
    aim = targets(4.5, mass_kg=68.0, sodium_mmol_per_l=43.5)

    assert 4.5 - aim.water_l == pytest.approx(0.02 * 68.0)
    assert aim.sodium_share_frac == 0.5


def test_no_more_than_four_fifths_of_the_sweat_is_replaced():
    assert targets(9.0, mass_kg=60.0, sodium_mmol_per_l=40.0).replaced_frac == pytest.approx(0.80)


def test_a_stage_with_little_sweat_asks_for_no_water():
    assert targets(0.8, mass_kg=68.0, sodium_mmol_per_l=40.0).water_l == 0.0
    assert targets(0.0, mass_kg=68.0, sodium_mmol_per_l=40.0).water_l == 0.0


def test_a_salty_rider_needs_more_than_half_of_his_sodium():
    aim = targets(7.0, mass_kg=68.0, sodium_mmol_per_l=80.0)

    assert aim.sodium_share_frac == pytest.approx(aim.needed_sodium_share_frac)
    assert 0.5 < aim.sodium_share_frac <= 1.0


def test_the_needed_share_holds_plasma_sodium():
    sweat_l, replaced, sodium = 5.0, 0.9, 60.0
    share = sodium_share_frac(replaced, sodium_mmol_per_l=sodium)
    gain = sweat_l * (share * sodium - sodium - 5.0)

    after = plasma_sodium_mmol_per_l(42.0, water_gain_l=(replaced - 1) * sweat_l, cation_gain_mmol=gain)

    assert after == pytest.approx(140.0, abs=1e-9)


def test_water_alone_up_to_the_threshold_holds_plasma_sodium():
    threshold = replacement_threshold_frac(40.0)

    after = plasma_sodium_mmol_per_l(42.0, water_gain_l=threshold - 1.0, cation_gain_mmol=-45.0)

    assert after == pytest.approx(140.0, abs=1e-9)


def test_an_isonatric_fluid_changes_nothing():
    gain = isonatric_cations_mmol_per_l(140.0) * 2.0

    assert plasma_sodium_mmol_per_l(42.0, water_gain_l=2.0, cation_gain_mmol=gain) == pytest.approx(140.0)


def test_arrays_agree_with_scalars():
    gains = np.array([-2.0, 0.0, 1.5])

    together = plasma_sodium_mmol_per_l(42.0, water_gain_l=gains)

    assert together.tolist() == [plasma_sodium_mmol_per_l(42.0, water_gain_l=float(gain)) for gain in gains]


def test_a_body_without_water_is_refused():
    with pytest.raises(UnphysicalInput):
        plasma_sodium_mmol_per_l(1.0, water_gain_l=-2.0)
