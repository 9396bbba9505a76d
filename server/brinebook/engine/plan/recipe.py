"""Grams to weigh out for a batch of one drink, as scoops of a bucket, and the ice to cool it."""

from dataclasses import dataclass

from brinebook.engine.constants import balance as c
from brinebook.engine.constants import mixing as m
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


@dataclass(frozen=True, slots=True)
class Dose:
    """One supply of one bucket: exact, and as whole scoops."""

    mass_g: float
    n_scoops: int | None
    """None where there is no scoop: it is weighed."""
    error_frac: float
    """Scooped over exact, less one; 0 where it is weighed."""


def buckets_l(volume_l: float, *, bucket_l: float) -> tuple[float, ...]:
    """
    Split a volume into full buckets and one that is not.

    Parameters
    ----------
    volume_l : float
        Drink to be made [L].
    bucket_l : float
        The bucket in use [L].

    Returns
    -------
    tuple of float
        Volume of each bucket [L]; together exactly the volume.

    References
    ----------
    .. [1] Arithmetic, Source key ``own_defaults``.

    Examples
    --------
    >>> buckets_l(23.0, bucket_l=10.0)
    (10.0, 10.0, 3.0)
    """
    physical("volume_l", volume_l, low=0.0)
    physical_positive("bucket_l", bucket_l)
    n_full = int((volume_l + m.SAME_VOLUME_L) // bucket_l)
    rest_l = volume_l - n_full * bucket_l
    return (bucket_l,) * n_full + ((rest_l,) if rest_l > m.SAME_VOLUME_L else ())


def dose(g_per_l: float, *, volume_l: float, scoop_g: float | None) -> Dose:
    """
    Weigh or scoop one supply into one bucket.

    Parameters
    ----------
    g_per_l : float
        Supply in a litre of drink [g/L].
    volume_l : float
        Drink in the bucket [L].
    scoop_g : float or None
        What a level scoop holds [g].

    Returns
    -------
    Dose
        Exact mass, the nearest whole number of scoops, and the error that rounding makes.

    References
    ----------
    .. [1] Arithmetic, Source key ``own_defaults``.

    Examples
    --------
    >>> dose(62.0, volume_l=10.0, scoop_g=35.0).n_scoops
    18
    """
    mass_g = float(physical("g_per_l", g_per_l, low=0.0)) * float(physical_positive("volume_l", volume_l))
    if scoop_g is None or mass_g <= 0.0:
        return Dose(mass_g, None, 0.0)
    # Half a scoop rounds up, as a hand would: never to an even number.
    n_scoops = int(mass_g / physical_positive("scoop_g", scoop_g).item() + 1.0 / 2.0)
    return Dose(mass_g, n_scoops, n_scoops * scoop_g / mass_g - 1.0)


def ice_kg(volume_l: float, *, from_c: float, to_c: float, air_temperature_c: float, kept_h: float) -> float:
    """
    Ice that cools bottles down and keeps them so.

    Parameters
    ----------
    volume_l : float
        Drink to cool [L].
    from_c : float
        As filled [C].
    to_c : float
        As wanted [C].
    air_temperature_c : float
        Around the boxes [C].
    kept_h : float
        How long the boxes wait [h].

    Returns
    -------
    float
        Ice at 0 C that ends as water at the wanted temperature [kg].

    References
    ----------
    .. [1] Source key ``iapws_ice``; leak of a box, Source key ``own_defaults``.

    Examples
    --------
    >>> round(ice_kg(10.0, from_c=20.0, to_c=10.0, air_temperature_c=20.0, kept_h=0.0), 2)
    1.12
    """
    physical("volume_l", volume_l, low=0.0)
    physical("kept_h", kept_h, low=0.0)
    cooled_kj = volume_l * m.WATER_KJ_PER_KG_K * max(0.0, from_c - to_c)
    n_boxes = volume_l / m.BOX_L
    leaked_kj = n_boxes * m.BOX_LEAK_W * kept_h * 3600.0 / 1000.0 if air_temperature_c > to_c else 0.0
    return (cooled_kj + leaked_kj) / (m.FUSION_KJ_PER_KG + m.WATER_KJ_PER_KG_K * to_c)
