"""How strong a batch really is: from what was weighed in, from its conductivity, or from a refractometer."""

from dataclasses import dataclass
from math import sqrt

from brinebook.engine.constants import balance as b
from brinebook.engine.constants import mixing as c
from brinebook.engine.errors import physical, physical_positive
from brinebook.engine.units import sodium_mg


@dataclass(frozen=True, slots=True)
class Made:
    """Sodium of a batch as made, with the spread of the reading."""

    sodium_mg_per_l: float
    sd_mg_per_l: float


@dataclass(frozen=True, slots=True)
class Weighed:
    """One supply as weighed into the batch, with what a gram of it holds."""

    mass_g: float
    sodium_mg_per_g: float
    carbohydrate_g_per_g: float = 0.0


def weighed_batch(supplies: tuple[Weighed, ...], *, water_l: float) -> Made:
    """
    Strength of a batch from what went into it.

    Parameters
    ----------
    supplies : tuple of Weighed
        Powders and salts.
    water_l : float
        Water measured in [L].

    Returns
    -------
    Made
        Sodium [mg/L] and its spread by scale and jug; an error of the label is not in it.

    References
    ----------
    .. [1] Room taken by sugar and spreads, Source key ``own_defaults``.

    Examples
    --------
    >>> round(weighed_batch((Weighed(600.0, 13.0, 0.95),), water_l=9.65).sodium_mg_per_l)
    780
    """
    physical_positive("water_l", water_l)
    volume_l = water_l + b.SUGAR_VOLUME_L_PER_KG * sum(
        one.carbohydrate_g_per_g * physical("mass_g", one.mass_g, low=0.0).item() for one in supplies
    ) / 1000.0
    sodium = sum(one.mass_g * one.sodium_mg_per_g for one in supplies)
    scale_mg = sqrt(sum((c.SCALE_SD_G * one.sodium_mg_per_g) ** 2 for one in supplies))
    return Made(sodium / volume_l, sqrt(scale_mg**2 + (c.WATER_SD_FRAC * sodium) ** 2) / volume_l)


def sodium_chloride_ms_per_cm(sodium_mmol_per_l: float) -> float:
    """
    Conductivity of sodium chloride in water at 25 C.

    Parameters
    ----------
    sodium_mmol_per_l : float
        Concentration, up to 100 [mmol/L].

    Returns
    -------
    float
        Conductivity [mS/cm].

    References
    ----------
    .. [1] Source key ``crc_conductivity``; slope, Source key ``onsager1927``.

    Examples
    --------
    >>> round(sodium_chloride_ms_per_cm(50.0), 2)
    5.55
    """
    mol_per_l = physical("sodium_mmol_per_l", sodium_mmol_per_l, low=0.0).item() / 1000.0
    slope = c.ONSAGER_A + c.ONSAGER_B * c.NACL_LIMIT_S_CM2_PER_MOL
    molar = c.NACL_LIMIT_S_CM2_PER_MOL - slope * sqrt(mol_per_l) + c.NACL_NEXT_TERM * mol_per_l
    return molar * mol_per_l


def at_25_c_ms_per_cm(conductivity_ms_per_cm: float, *, temperature_c: float) -> float:
    """
    Conductivity as it would be at 25 C.

    Parameters
    ----------
    conductivity_ms_per_cm : float
        As read, without the meter's own compensation [mS/cm].
    temperature_c : float
        Of the drink [C].

    Returns
    -------
    float
        Conductivity at 25 C [mS/cm].

    References
    ----------
    .. [1] Source key ``own_defaults``.

    Examples
    --------
    >>> round(at_25_c_ms_per_cm(4.5, temperature_c=20.0), 2)
    5.0
    """
    physical("conductivity_ms_per_cm", conductivity_ms_per_cm, low=0.0)
    physical("temperature_c", temperature_c, low=0.0, high=50.0)
    return conductivity_ms_per_cm / (1.0 + c.CONDUCTIVITY_PER_K * (temperature_c - c.REFERENCE_C))


def _sodium_at_mmol_per_l(conductivity_ms_per_cm: float) -> float:
    """Turn the sodium chloride curve round; it rises over its whole range."""
    low, high = 0.0, 100.0
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (middle, high) if sodium_chloride_ms_per_cm(middle) < conductivity_ms_per_cm else (low, middle)
    return (low + high) / 2.0


def conducting_batch(
    conductivity_ms_per_cm: float, *, temperature_c: float, label_mg_per_l: float,
    reference_ms_per_cm: float | None = None,
) -> Made:
    """
    Strength of a batch from its conductivity.

    Parameters
    ----------
    conductivity_ms_per_cm : float
        As read, uncompensated [mS/cm].
    temperature_c : float
        Of the drink [C].
    label_mg_per_l : float
        Sodium the drink should have [mg/L].
    reference_ms_per_cm : float or None
        Conductivity at 25 C of a batch of this drink known to be right [mS/cm].

    Returns
    -------
    Made
        Against the reference a close reading; without one the sodium chloride that would conduct as much, with a
        wide spread, since sugar slows and other salts add.

    References
    ----------
    .. [1] Source key ``crc_conductivity``; spreads, Source key ``own_defaults``.

    Examples
    --------
    >>> made = conducting_batch(2.5, temperature_c=25.0, label_mg_per_l=800.0, reference_ms_per_cm=4.0)
    >>> 480.0 < made.sodium_mg_per_l < 500.0
    True
    """
    read = at_25_c_ms_per_cm(conductivity_ms_per_cm, temperature_c=temperature_c)
    plain_mg_per_l = sodium_mg(_sodium_at_mmol_per_l(read))
    if reference_ms_per_cm is None:
        return Made(plain_mg_per_l, c.BARE_METER_SD_FRAC * plain_mg_per_l)
    physical_positive("label_mg_per_l", label_mg_per_l)
    reference_mg_per_l = sodium_mg(_sodium_at_mmol_per_l(physical_positive("reference", reference_ms_per_cm).item()))
    made = label_mg_per_l * plain_mg_per_l / reference_mg_per_l
    return Made(made, c.METER_SD_FRAC * made)


def solids_g_per_l(sucrose_g_per_100_g: float) -> float:
    """
    Dissolved solids behind a refractometer's degrees.

    Parameters
    ----------
    sucrose_g_per_100_g : float
        Degrees as read: grams of sucrose in 100 grams of solution, up to 40.

    Returns
    -------
    float
        Solids in a litre [g/L].

    References
    ----------
    .. [1] Source key ``nbs440``; room taken by sugar, Source key ``own_defaults``.

    Examples
    --------
    >>> round(solids_g_per_l(10.0), 1)
    104.0
    """
    degrees = physical("sucrose_g_per_100_g", sucrose_g_per_100_g, low=0.0, high=40.0).item()
    return 1000.0 * degrees / (100.0 - degrees * (1.0 - b.SUGAR_VOLUME_L_PER_KG))


def refracting_batch(
    sucrose_g_per_100_g: float, *, powder_g_per_l: float, powder_mg_per_l: float, unseen_mg_per_l: float,
) -> Made:
    """
    Strength of a batch from a refractometer, which sees the powder and not the salt spooned in beside it.

    Parameters
    ----------
    sucrose_g_per_100_g : float
        Degrees as read.
    powder_g_per_l : float
        Powder the recipe asks for [g/L].
    powder_mg_per_l : float
        Sodium that powder brings at the recipe's strength [mg/L].
    unseen_mg_per_l : float
        Sodium from salts beside the powder [mg/L]: taken as the recipe says, with a wide spread.

    Returns
    -------
    Made
        Sodium and its spread.

    Raises
    ------
    UnphysicalInput
        If the recipe has no powder: there is nothing to see.

    References
    ----------
    .. [1] Source key ``nbs440``; spreads, Source key ``own_defaults``.

    Examples
    --------
    >>> made = refracting_batch(6.05, powder_g_per_l=62.0, powder_mg_per_l=800.0, unseen_mg_per_l=0.0)
    >>> 795.0 < made.sodium_mg_per_l < 805.0
    True
    """
    physical_positive("powder_g_per_l", powder_g_per_l)
    ratio = solids_g_per_l(sucrose_g_per_100_g) / powder_g_per_l
    one_step = solids_g_per_l(c.REFRACTOMETER_SD_G_PER_100_G) / powder_g_per_l
    seen_sd = powder_mg_per_l * sqrt(one_step**2 + (c.REFRACTOMETER_SD_FRAC * ratio) ** 2)
    unseen_sd = c.UNSEEN_SALT_SD_FRAC * unseen_mg_per_l
    return Made(powder_mg_per_l * ratio + unseen_mg_per_l, sqrt(seen_sd**2 + unseen_sd**2))
