"""Batches, scoops, ice, mix checks and stock, against conservation and against published tables."""

import json
import math

import numpy as np
import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.plan.mix_check import (
    Weighed,
    at_25_c_ms_per_cm,
    conducting_batch,
    refracting_batch,
    sodium_chloride_ms_per_cm,
    solids_g_per_l,
    weighed_batch,
)
from brinebook.engine.plan.recipe import buckets_l, dose, ice_kg
from brinebook.engine.plan.stock import days_covered_n, packs_to_buy_n, use_quantiles
from engine.plan.coolbox_answers import FOLDER, answers
from hypothesis import given
from hypothesis import strategies as st

litres = st.floats(0.0, 200.0)
scoops = st.floats(0.5, 100.0)


@given(litres, st.floats(0.5, 60.0))
def test_buckets_hold_exactly_the_drink_and_none_is_overfull(volume_l, bucket_l):
    parts = buckets_l(volume_l, bucket_l=bucket_l)

    assert sum(parts) == pytest.approx(volume_l, abs=1e-9 * max(1.0, volume_l))
    assert all(0.0 < part <= bucket_l + 1e-9 for part in parts)


@given(st.floats(0.01, 200.0), litres, st.floats(0.5, 60.0))
def test_the_grams_of_all_buckets_are_the_grams_of_the_drink(g_per_l, volume_l, bucket_l):
    parts = [dose(g_per_l, volume_l=part, scoop_g=None).mass_g for part in buckets_l(volume_l, bucket_l=bucket_l)]

    assert sum(parts) == pytest.approx(g_per_l * volume_l, rel=1e-9, abs=1e-6)


@given(st.floats(0.01, 200.0), st.floats(0.1, 60.0), scoops)
def test_scoops_are_whole_their_error_is_honest_and_at_most_half_a_scoop(g_per_l, volume_l, scoop_g):
    made = dose(g_per_l, volume_l=volume_l, scoop_g=scoop_g)

    assert isinstance(made.n_scoops, int)
    assert made.n_scoops * scoop_g == pytest.approx(made.mass_g * (1.0 + made.error_frac), rel=1e-9, abs=1e-9)
    assert abs(made.n_scoops * scoop_g - made.mass_g) <= scoop_g / 2.0 + 1e-9


def test_nothing_is_rounded_where_there_is_no_scoop():
    made = dose(3.0, volume_l=10.0, scoop_g=None)

    assert (made.mass_g, made.n_scoops, made.error_frac) == (pytest.approx(30.0), None, 0.0)


def test_ice_takes_the_heat_the_drink_gives():
    """Heat balance by hand: 20 L from 18 to 10 C give 670 kJ, a kilogram of ice takes 333.4 + 41.9."""
    in_shade = ice_kg(20.0, from_c=18.0, to_c=10.0, air_temperature_c=10.0, kept_h=9.0)

    assert in_shade == pytest.approx(670.4 / 375.3, rel=1e-3)
    assert ice_kg(20.0, from_c=5.0, to_c=10.0, air_temperature_c=8.0, kept_h=2.0) == 0.0


@pytest.mark.parametrize(("mol_per_l", "molar"), [
    # CRC Handbook, equivalent conductivity of NaCl in water at 25 C [S cm2/mol]; from memory.
    (0.001, 123.68), (0.005, 120.59), (0.01, 118.45), (0.02, 115.70), (0.05, 111.01), (0.1, 106.69),
])
def test_sodium_chloride_conducts_as_the_handbook_says(mol_per_l, molar):
    assert sodium_chloride_ms_per_cm(1000.0 * mol_per_l) == pytest.approx(molar * mol_per_l, rel=0.004)


def test_temperature_is_taken_out_as_the_calibration_standard_shows():
    """0.01 mol/L KCl standard: 1.273 mS/cm at 20 C and 1.408 at 25 C (ISO 7888 and OIML R 56; from memory)."""
    assert at_25_c_ms_per_cm(1.273, temperature_c=20.0) == pytest.approx(1.408, rel=0.01)


@pytest.mark.parametrize(("degrees", "g_per_l"), [
    # Sucrose in a litre at 20 C: NBS Circular 440, mass fraction x density 1.0178, 1.0381, 1.0592; from memory.
    (5.0, 50.9), (10.0, 103.8), (15.0, 158.9),
])
def test_a_refractometer_s_degrees_are_grams_in_a_litre(degrees, g_per_l):
    assert solids_g_per_l(degrees) == pytest.approx(g_per_l, rel=0.005)


def test_a_batch_weighed_by_the_recipe_has_the_label_s_strength():
    made = weighed_batch((Weighed(625.0, 3.0, 0.96), Weighed(15.57, 393.3625)), water_l=10.0 - 0.62 * 0.6)

    assert made.sodium_mg_per_l == pytest.approx(800.0, abs=0.5)
    assert 10.0 < made.sd_mg_per_l < 50.0


def test_too_much_water_weakens_in_proportion():
    strong, weak = (weighed_batch((Weighed(15.0, 393.0),), water_l=water_l) for water_l in (5.0, 10.0))

    assert weak.sodium_mg_per_l == pytest.approx(strong.sodium_mg_per_l / 2.0)


def test_conductivity_against_a_good_batch_is_closer_than_without():
    beside = conducting_batch(3.45, temperature_c=25.0, label_mg_per_l=800.0, reference_ms_per_cm=3.45)
    bare = conducting_batch(3.45, temperature_c=25.0, label_mg_per_l=800.0)

    assert beside.sodium_mg_per_l == pytest.approx(800.0)
    assert beside.sd_mg_per_l < bare.sd_mg_per_l / 5.0
    assert abs(bare.sodium_mg_per_l - 800.0) < 2.0 * bare.sd_mg_per_l


def test_a_refractometer_does_not_see_the_salt_beside_the_powder_and_says_so_by_its_spread():
    seen = refracting_batch(4.0, powder_g_per_l=62.5, powder_mg_per_l=800.0, unseen_mg_per_l=0.0)
    unseen = refracting_batch(4.0, powder_g_per_l=62.5, powder_mg_per_l=100.0, unseen_mg_per_l=700.0)

    assert seen.sodium_mg_per_l == pytest.approx(800.0 * 40.6 / 62.5, rel=0.01)
    assert unseen.sodium_mg_per_l > seen.sodium_mg_per_l
    assert unseen.sd_mg_per_l > 3.0 * seen.sd_mg_per_l
    with pytest.raises(UnphysicalInput):
        refracting_batch(4.0, powder_g_per_l=0.0, powder_mg_per_l=0.0, unseen_mg_per_l=800.0)


def test_the_quantiles_of_use_are_those_of_drawn_races():
    rng = np.random.default_rng(7)
    likely, sd, r = np.full(40, 30.0), np.full(40, 6.0), 0.3
    drawn = 500.0 + (likely + sd * (math.sqrt(r) * rng.standard_normal((60_000, 1))
                                    + math.sqrt(1 - r) * rng.standard_normal((60_000, 40)))).sum(axis=1)

    got = use_quantiles(500.0, likely_n=tuple(likely), spread_sd=tuple(sd), correlation_frac=r)

    assert got == pytest.approx(tuple(np.quantile(drawn, (0.1, 0.5, 0.9))), rel=0.004)


@given(st.floats(0.0, 1e5), st.floats(0.0, 1e5), st.floats(1.0, 5000.0))
def test_packs_close_the_gap_and_not_one_more(needed, on_hand, pack):
    n = packs_to_buy_n(needed, on_hand_n=on_hand, pack_n=pack)

    assert on_hand + n * pack >= needed - 1e-3
    assert n == 0 or on_hand + (n - 1) * pack < needed


def test_days_are_counted_until_the_first_that_is_short():
    assert days_covered_n((10.0, 10.0, 30.0, 1.0), on_hand_n=20.0) == 2
    assert days_covered_n((), on_hand_n=0.0) == 0
    assert days_covered_n((5.0, 5.0), on_hand_n=10.0) == 2


def test_the_answers_the_phones_are_held_against_are_the_engine_s():
    kept = json.loads((FOLDER / "coolbox_answers.json").read_text("utf-8"))

    for name, rows in answers().items():
        for row, known in zip(rows, kept[name], strict=True):
            assert [-1 if one is None else one for one in row] == pytest.approx(
                [-1 if one is None else one for one in known], rel=1e-9,
            )
