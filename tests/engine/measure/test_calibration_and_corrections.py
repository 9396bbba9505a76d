"""Electrode, control solutions, handling of the sample, other ions, other sites."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.measure.calibration import (
    ControlReading,
    calibration_quality,
    control_quality,
    drift_corrected_mmol_per_l,
)
from brinebook.engine.measure.corrections import corrected_sodium, duplicate_reading
from brinebook.engine.measure.ion_checks import (
    chloride_codes,
    conductivity_reading,
    is_for_physician,
    potassium_codes,
    sodium_class,
)
from brinebook.engine.measure.sample_chemistry import conductivity_equivalent_mmol_per_l
from brinebook.engine.measure.sites import whole_body_from_sites
from brinebook.engine.measure.sweat_sample import pair_quality, sample_quality
from hypothesis import given, settings
from hypothesis import strategies as st

SAMPLE = {"volume_ul": 40.0, "area_cm2": 5.0, "collected_min": 10.0, "started_after_min": 20.0, "stored_days": 0.0,
          "is_sealed": True, "method": "ion_selective"}
FEW = settings(max_examples=60, deadline=None)


@pytest.mark.parametrize(("slope", "solutions", "changes", "codes"), [
    (58.0, (10.0, 100.0), {}, ()),
    (51.9, (10.0, 100.0), {}, ("CAL_SLOPE",)),
    (62.1, (10.0, 100.0), {}, ("CAL_SLOPE",)),
    (58.0, (20.0, 80.0), {}, ("CAL_SPAN",)),
    (58.0, (100.0, 10.0), {"n_samples_since": 10}, ("CAL_DUE",)),
    (58.0, (10.0, 100.0), {"temperature_change_c": -5.5}, ("CAL_DUE",)),
])
def test_a_calibration_says_what_is_wrong_with_it(slope, solutions, changes, codes):
    found = calibration_quality(slope, temperature_c=25.0, solutions_mmol_per_l=solutions, **changes)

    assert found.codes == codes
    assert found.slope_share_frac == pytest.approx(slope / 59.15, abs=1e-3)


@pytest.mark.parametrize(("low", "high", "is_usable", "codes"), [
    ((25.0, 25.0, 26.0), (85.0, 86.0, 88.0), True, ()),
    ((25.0, 26.5, 26.6), (85.0, 86.0, 88.0), True, ("QC_WARN",)),
    ((25.0, 24.5, 25.9), (85.0, 86.0, 87.0), True, ("DRIFT",)),
    ((25.0, 25.0, 27.6), (85.0, 86.0, 87.0), False, ("QC_FAIL",)),
    ((50.0, 50.0, 50.0), (85.0, 86.0, 87.0), True, ("QC_SPAN",)),
])
def test_control_solutions_accept_warn_and_stop(low, high, is_usable, codes):
    found = control_quality([ControlReading(*low), ControlReading(*high)])

    assert (found.is_usable, found.codes) == (is_usable, codes)


def test_a_batch_without_control_is_refused():
    with pytest.raises(UnphysicalInput, match="n_controls"):
        control_quality([])


def test_drift_is_taken_off_along_the_batch():
    first = drift_corrected_mmol_per_l(50.0, drift_frac=0.08, place_frac=0.0)
    last = drift_corrected_mmol_per_l(54.0, drift_frac=0.08, place_frac=1.0)

    assert (first, last) == (50.0, pytest.approx(50.0))


@pytest.mark.parametrize(("readings", "value", "codes"), [
    ((50.0, 53.0), 51.5, ()),
    ((20.0, 21.9), 20.95, ()),
    ((50.0, 54.0), 52.0, ("DUP_READ",)),
    ((54.0, 50.0, 51.0), 51.0, ()),
])
def test_two_readings_agree_or_ask_for_a_third(readings, value, codes):
    assert duplicate_reading(readings) == (pytest.approx(value), codes)


def test_one_reading_is_no_duplicate():
    with pytest.raises(UnphysicalInput, match="n_readings"):
        duplicate_reading((50.0,))


@FEW
@given(st.floats(8.0, 120.0), st.floats(10.0, 100.0), st.floats(0.0, 200.0), st.floats(0.0, 0.005), st.floats(0.0, 0.4))
def test_what_handling_did_to_a_sample_can_be_undone(sodium, volume_ul, diluent_ul, background_mg, evaporated):
    in_tube = sodium / (1.0 - evaporated) + background_mg / 22.98977 / volume_ul * 1e6
    reading = in_tube * volume_ul / (volume_ul + diluent_ul)

    found = corrected_sodium(
        reading, volume_ul=volume_ul, diluent_ul=diluent_ul, background_mg=background_mg, evaporated_frac=evaporated
    )

    assert found.sodium_mmol_per_l == pytest.approx(sodium, rel=1e-9)


def test_diluting_by_imprecise_volumes_widens_the_spread():
    exact = corrected_sodium(25.0, volume_ul=50.0, diluent_ul=50.0, reading_sd_mmol_per_l=0.5)
    loose = corrected_sodium(25.0, volume_ul=50.0, diluent_ul=50.0, reading_sd_mmol_per_l=0.5, volume_sd_ul=2.0,
                             diluent_sd_ul=1.0)

    assert exact.sodium_sd_mmol_per_l == pytest.approx(1.0)
    assert loose.sodium_sd_mmol_per_l == pytest.approx(50.0 * (0.02**2 + 0.25 * (0.04**2 + 0.02**2)) ** 0.5)


def test_a_background_larger_than_the_sample_is_refused():
    with pytest.raises(UnphysicalInput, match="background_mg"):
        corrected_sodium(10.0, volume_ul=20.0, background_mg=0.01)


@pytest.mark.parametrize(("sodium", "chloride", "codes"), [
    (42.9, 32.2, ()), (60.0, 30.0, ("NA_CL",)), (40.0, 50.0, ("NA_CL",)), (170.0, 165.0, ("RANGE_IMPOSSIBLE",)),
])
def test_chloride_tells_on_sodium(sodium, chloride, codes):
    assert chloride_codes(sodium, chloride_mmol_per_l=chloride) == codes


def test_potassium_tells_on_the_skin():
    assert [potassium_codes(level) for level in (2.0, 6.0, 11.0)] == [("POTASSIUM_RANGE",), (), ("POTASSIUM_RANGE",)]


def test_only_two_clean_salty_tests_go_to_the_physician():
    assert not is_for_physician([(95.0, 70.0), (80.0, 62.0)])
    assert not is_for_physician([(95.0, 70.0), (95.0, 55.0)])
    assert is_for_physician([(95.0, 70.0), (95.0, 60.0)])


def test_conductivity_names_itself_and_inverts_its_line():
    reading = conductivity_reading(conductivity_equivalent_mmol_per_l(50.0))

    assert reading.chloride_mmol_per_l == pytest.approx(50.0)
    assert reading.codes == ("COND_ONLY",)
    assert conductivity_reading(95.0).codes == ("COND_ONLY", "COND_RANGE")
    with pytest.raises(UnphysicalInput):
        conductivity_reading(30.0)


@pytest.mark.parametrize(("sodium", "name"), [(29.9, "low"), (30.0, "middle"), (60.0, "middle"), (60.1, "high")])
def test_a_level_has_one_class(sodium, name):
    assert sodium_class(sodium) == name


def test_a_mixed_pair_is_converted_arm_by_arm_and_weighed():
    found = whole_body_from_sites({"dorsal_forearm": 60.0, "ventral_forearm": 48.0})

    assert found.sd_mmol_per_l == 6.0
    assert found.weights_frac["dorsal_forearm"] == pytest.approx(9.7**2 / (7.1**2 + 9.7**2))
    assert 45.25 < found.mean_mmol_per_l < 48.0
    assert whole_body_from_sites({"dorsal_forearm": 60.0}).sd_mmol_per_l == pytest.approx(7.1)


@pytest.mark.parametrize("regional", [{}, {"forehead": 50.0}, {"five_site": 50.0}])
def test_a_site_without_a_spread_takes_no_part(regional):
    with pytest.raises(UnphysicalInput, match="site"):
        whole_body_from_sites(regional)


def test_arms_read_by_different_methods_are_no_pair():
    mixed = pair_quality(50.0, 52.0, methods=("ion_selective", "conductivity"))

    assert (mixed.is_usable, mixed.codes) == (False, ("METHOD_MISMATCH",))
    assert pair_quality(50.0, 52.0, methods=("ion_selective", "flame")).is_usable


@pytest.mark.parametrize(("remark", "is_usable", "variance"), [
    ("VOL_FULL", True, 0.0), ("LEAK", True, 0.01), ("TATTOO_OR_WOUND", True, 0.2304), ("QC_FAIL", False, 0.0),
    ("NA_CL", True, 0.01),
])
def test_what_hands_noted_widens_or_stops(remark, is_usable, variance):
    quality = sample_quality(50.0, **SAMPLE, remarks=[remark])

    assert (quality.is_usable, quality.codes) == (is_usable, (remark,))
    assert quality.extra_log_variance == pytest.approx(variance)


def test_an_unknown_remark_is_refused():
    with pytest.raises(UnphysicalInput, match="NICE_DAY"):
        sample_quality(50.0, **SAMPLE, remarks={"NICE_DAY"})
