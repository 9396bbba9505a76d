"""Grams in the tub."""

import pytest
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.plan.recipe import batch
from brinebook.engine.units import citrate_sodium_mg, salt_sodium_mg


def test_a_batch_holds_the_sodium_on_its_label_whatever_the_salts():
    mixed = batch(20.0, sodium_mg_per_l=800.0, carbohydrate_g_per_l=80.0, citrate_share_frac=0.4)

    sodium = salt_sodium_mg(mixed.salt_g) + citrate_sodium_mg(mixed.citrate_g)
    assert sodium == pytest.approx(16_000.0, abs=1e-6)
    assert mixed.carbohydrate_g == pytest.approx(1600.0)
    assert mixed.water_l == pytest.approx(20.0 - 0.62 * 1.6)


def test_a_negative_strength_is_refused():
    with pytest.raises(UnphysicalInput):
        batch(1.0, sodium_mg_per_l=-1.0, carbohydrate_g_per_l=0.0)
