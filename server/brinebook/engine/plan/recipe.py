"""Grams to weigh out for a batch of one drink."""

from dataclasses import dataclass

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import physical, physical_positive
from brinebook.engine.units import TRISODIUM_CITRATE_DIHYDRATE_G_PER_MOL, salt_g, sodium_mmol


@dataclass(frozen=True, slots=True)
class Batch:
    """What goes into the tub; water fills up to the volume."""

    salt_g: float
    citrate_g: float
    carbohydrate_g: float
    water_l: float


def batch(
    volume_l: float, *, sodium_mg_per_l: float, carbohydrate_g_per_l: float, citrate_share_frac: float = 0.0,
) -> Batch:
    """
    Weigh out a batch.

    Parameters
    ----------
    volume_l : float
        Finished drink [L].
    sodium_mg_per_l : float
        Sodium of the drink [mg/L].
    carbohydrate_g_per_l : float
        Carbohydrate of the drink [g/L].
    citrate_share_frac : float
        Share of the sodium given as trisodium citrate, which tastes less salty and has fewer particles [frac].

    Returns
    -------
    Batch
        Table salt, citrate, carbohydrate and water.

    References
    ----------
    .. [1] Molar masses, Source key ``iupac_masses``; room taken by sugar, Source key ``own_defaults``.

    Examples
    --------
    >>> round(batch(1.0, sodium_mg_per_l=1000.0, carbohydrate_g_per_l=0.0).salt_g, 3)
    2.542
    """
    physical_positive("volume_l", volume_l)
    physical("sodium_mg_per_l", sodium_mg_per_l, low=0.0)
    physical("carbohydrate_g_per_l", carbohydrate_g_per_l, low=0.0)
    physical("citrate_share_frac", citrate_share_frac, low=0.0, high=1.0)
    total_mg = sodium_mg_per_l * volume_l
    citrate_mmol = sodium_mmol(total_mg * citrate_share_frac) / 3.0
    carbohydrate_g = carbohydrate_g_per_l * volume_l
    return Batch(
        salt_g=salt_g(total_mg * (1.0 - citrate_share_frac)),
        citrate_g=citrate_mmol * TRISODIUM_CITRATE_DIHYDRATE_G_PER_MOL / 1000.0,
        carbohydrate_g=carbohydrate_g,
        water_l=volume_l - c.SUGAR_VOLUME_L_PER_KG * carbohydrate_g / 1000.0,
    )
