"""Which samples are refused, and which merely count for less."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.measure.sweat_sample import pair_quality, regional_to_whole_body_mmol_per_l, sample_quality

GOOD = {"volume_ul": 40.0, "area_cm2": 5.0, "collected_min": 10.0, "started_after_min": 20.0, "stored_days": 0.0,
        "is_sealed": True, "method": "ion_selective"}


def _quality(sodium=50.0, **changes):
    return sample_quality(sodium, **(GOOD | changes))


def test_a_clean_sample_has_no_code_and_no_extra_spread():
    quality = _quality()

    assert (quality.is_usable, quality.codes, quality.extra_log_variance) == (True, (), 0.0)
    assert quality.local_rate_mg_per_cm2_min == pytest.approx(0.8)


@pytest.mark.parametrize(("sodium", "changes", "code"), [
    (50.0, {"volume_ul": 4.9}, "VOL_LOW"),
    (50.0, {"is_sealed": False}, "STORE_FAIL"),
    (50.0, {"stored_days": 7.5}, "STORE_FAIL"),
    (141.0, {}, "RANGE_IMPOSSIBLE"),
])
def test_a_hard_stop_makes_a_sample_unusable(sodium, changes, code):
    quality = _quality(sodium, **changes)

    assert not quality.is_usable
    assert code in quality.codes


@pytest.mark.parametrize(("sodium", "changes", "code", "variance"), [
    (50.0, {"started_after_min": 5.0}, "FIRST_SWEAT", 0.01),
    (50.0, {"stored_days": 3.0}, "STORED", 0.0049),
    (50.0, {"method": "conductivity"}, "COND_ONLY", 0.0196),
    (50.0, {"volume_ul": 10.0}, "RATE_LOW", 0.01),
    (110.0, {}, "RANGE_HIGH", 0.0225),
    (130.0, {}, "REPEAT", 0.045),
    (5.0, {}, "RANGE_LOW", 0.0225),
])
def test_a_doubt_widens_the_spread_and_keeps_the_sample(sodium, changes, code, variance):
    quality = _quality(sodium, **changes)

    assert quality.is_usable
    assert code in quality.codes
    assert quality.extra_log_variance == pytest.approx(variance)


def test_a_sample_without_volume_is_impossible():
    with pytest.raises(UnphysicalInput, match="volume_ul"):
        _quality(volume_ul=0.0)


@pytest.mark.parametrize(("left", "right", "is_usable", "codes"), [
    (50.0, 60.0, True, ()),
    (10.0, 15.9, True, ()),
    (50.0, 66.0, True, ("LR_DIFF",)),
    (50.0, 71.0, False, ("LR_DIFF",)),
])
def test_arms_that_differ_are_flagged_then_refused(left, right, is_usable, codes):
    pair = pair_quality(left, right)

    assert (pair.is_usable, pair.codes) == (is_usable, codes)
    assert pair == pair_quality(right, left)


def test_a_ventral_sample_never_takes_the_dorsal_equation():
    assert regional_to_whole_body_mmol_per_l(40.0, site="ventral_forearm") == 40.0


def test_a_site_without_a_verified_equation_is_refused():
    with pytest.raises(UnphysicalInput, match="forehead"):
        regional_to_whole_body_mmol_per_l(40.0, site="forehead")
