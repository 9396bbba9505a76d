"""Drinks as arithmetic: water in a bottle, osmolality, blends, and the rule a rider can keep in his pocket."""

from dataclasses import dataclass
from typing import Literal

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import finite, physical, physical_positive
from brinebook.engine.units import Floats, sodium_mg

RuleCode = Literal["every_nth_salty", "alternate_water", "standard_only", "all_salty", "no_blend"]


def water_fraction_frac(carbohydrate_g_per_l: Floats) -> Floats:
    """
    Water in a litre of drink; dissolved sugar takes up room.

    Parameters
    ----------
    carbohydrate_g_per_l : float or array, shape (n,)
        Carbohydrate of the drink [g/L].

    Returns
    -------
    float or array, shape (n,)
        Litres of water per litre [frac].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``own_defaults``.

    Examples
    --------
    >>> round(water_fraction_frac(80.0), 2)
    0.95
    """
    finite(carbohydrate_g_per_l=carbohydrate_g_per_l)
    return 1.0 - c.SUGAR_VOLUME_L_PER_KG * carbohydrate_g_per_l / 1000.0


def osmolality_mosm_per_l(
    *,
    monosaccharide_g_per_l: float = 0.0,
    sucrose_g_per_l: float = 0.0,
    maltodextrin_g_per_l: float = 0.0,
    dextrose_equivalent_n: float = 10.0,
    chloride_mmol_per_l: float = 0.0,
    citrate_sodium_mmol_per_l: float = 0.0,
) -> float:
    """
    Count the particles in an ideal solution.

    Parameters
    ----------
    monosaccharide_g_per_l : float
        Glucose and fructose [g/L].
    sucrose_g_per_l : float
        Sucrose, not inverted [g/L].
    maltodextrin_g_per_l : float
        Maltodextrin [g/L].
    dextrose_equivalent_n : float
        Dextrose equivalent of the maltodextrin, a plain number.
    chloride_mmol_per_l : float
        Sodium chloride and potassium chloride together [mmol/L].
    citrate_sodium_mmol_per_l : float
        Sodium given as trisodium citrate [mmol/L].

    Returns
    -------
    float
        Osmolality per litre [mOsm/L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    Notes
    -----
    Real salt gives about 7 % less; sucrose inverts in acid drinks and gives more.

    References
    ----------
    .. [1] Molar masses, Source key ``iupac_masses``.

    Examples
    --------
    >>> round(osmolality_mosm_per_l(monosaccharide_g_per_l=60.0))
    333
    """
    finite(
        monosaccharide_g_per_l=monosaccharide_g_per_l, sucrose_g_per_l=sucrose_g_per_l,
        maltodextrin_g_per_l=maltodextrin_g_per_l, dextrose_equivalent_n=dextrose_equivalent_n,
        chloride_mmol_per_l=chloride_mmol_per_l, citrate_sodium_mmol_per_l=citrate_sodium_mmol_per_l,
    )
    maltodextrin_g_per_mol = c.MALTODEXTRIN_G_PER_MOL_DE / dextrose_equivalent_n
    sugars_mol_per_l = (
        monosaccharide_g_per_l / c.GLUCOSE_G_PER_MOL
        + sucrose_g_per_l / c.SUCROSE_G_PER_MOL
        + maltodextrin_g_per_l / maltodextrin_g_per_mol
    )
    # A chloride gives two ions; a citrate gives four for three of sodium.
    return sugars_mol_per_l * 1000.0 + 2.0 * chloride_mmol_per_l + citrate_sodium_mmol_per_l * 4.0 / 3.0


def blend_frac(base_mg_per_l: float, *, strong_mg_per_l: float, target_mg_per_l: float) -> float:
    """
    Share of the stronger drink in a blend of two (alligation).

    Parameters
    ----------
    base_mg_per_l : float
        Sodium of the weaker drink [mg/L].
    strong_mg_per_l : float
        Sodium of the stronger drink [mg/L].
    target_mg_per_l : float
        Sodium of the blend; must lie between the two [mg/L].

    Returns
    -------
    float
        Share by volume [frac].

    Raises
    ------
    UnphysicalInput
        If the target lies outside the two drinks.

    References
    ----------
    .. [1] Source key ``balance_pin``.

    Examples
    --------
    >>> round(blend_frac(460.0, strong_mg_per_l=1500.0, target_mg_per_l=900.0), 3)
    0.423
    """
    physical("strong_mg_per_l", strong_mg_per_l - base_mg_per_l, low=c.BLEND_LEAST_STEP_MG_PER_L)
    physical("target_mg_per_l", target_mg_per_l, low=base_mg_per_l, high=strong_mg_per_l)
    return (target_mg_per_l - base_mg_per_l) / (strong_mg_per_l - base_mg_per_l)


def mixed_mg_per_l(concentrations_mg_per_l: tuple[float, ...], *, volumes_l: tuple[float, ...]) -> float:
    """
    Sodium of several bottles together.

    Parameters
    ----------
    concentrations_mg_per_l : tuple of float
        Sodium of each drink [mg/L].
    volumes_l : tuple of float
        How much of each [L].

    Returns
    -------
    float
        Sodium of the whole [mg/L].

    References
    ----------
    .. [1] Source key ``balance_pin``.

    Examples
    --------
    >>> mixed_mg_per_l((800.0, 0.0), volumes_l=(0.5, 0.5))
    400.0
    """
    physical_positive("volumes_l", sum(volumes_l))
    salt = sum(per_l * volume_l for per_l, volume_l in zip(concentrations_mg_per_l, volumes_l, strict=True))
    return salt / sum(volumes_l)


def water_carried_g(glucose_g: Floats) -> tuple[Floats, Floats]:
    """
    Water that crosses the gut with glucose and sodium.

    Parameters
    ----------
    glucose_g : float or array, shape (n,)
        Glucose taken up [g].

    Returns
    -------
    tuple of float or array
        Low and high figure [g].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] High: Source key ``loo1996``; low: Source key ``zeuthen2001``.

    Examples
    --------
    >>> [round(water_g) for water_g in water_carried_g(1.0)]
    [21, 26]
    """
    finite(glucose_g=glucose_g)
    per_g = c.WATER_G_PER_MOL / c.GLUCOSE_G_PER_MOL
    low, high = c.WATER_PER_GLUCOSE_N
    return low * per_g * glucose_g, high * per_g * glucose_g


@dataclass(frozen=True, slots=True)
class PocketBlend:
    """One rider's blend of the team's own bottles, one in how many, with the spread of his sweat sodium."""

    code: RuleCode
    target_mg_per_l: float
    one_in_n: float | None = None
    """``every_nth_salty``: one salty bottle in so many. ``alternate_water``: one standard bottle in so many."""
    one_in_n_low: float | None = None
    one_in_n_high: float | None = None
    food_units_per_salty_bottle: float | None = None


def _code(target_mg_per_l: float, base_mg_per_l: float, salty_mg_per_l: float | None) -> RuleCode:
    """Decide which two bottles hold the sweat between them."""
    near_frac = c.POCKET_NEAR_FRAC
    if abs(target_mg_per_l - base_mg_per_l) <= near_frac * base_mg_per_l:
        return "standard_only"
    if target_mg_per_l < base_mg_per_l:
        return "alternate_water"
    if salty_mg_per_l is None or salty_mg_per_l <= base_mg_per_l or target_mg_per_l > salty_mg_per_l:
        return "no_blend"
    return "all_salty" if target_mg_per_l >= (1.0 - near_frac) * salty_mg_per_l else "every_nth_salty"


def _one_in(code: RuleCode, target_mg_per_l: float, base_mg_per_l: float, salty_mg_per_l: float) -> float | None:
    """Bottles in a round with one special bottle; None where the target needs none of it."""
    weak, strong = (0.0, base_mg_per_l) if code == "alternate_water" else (base_mg_per_l, salty_mg_per_l)
    held = min(max(target_mg_per_l, weak), strong)
    share = blend_frac(weak, strong_mg_per_l=strong, target_mg_per_l=held)
    return 1.0 / share if share > c.POCKET_LEAST_SHARE_FRAC else None


def pocket_rule(
    sodium_mmol_per_l: float,
    *,
    spread_mmol_per_l: tuple[float, float],
    base_mg_per_l: float,
    salty_mg_per_l: float | None,
    bottle_l: float = 0.5,
    food_sodium_mg: float | None = None,
) -> PocketBlend:
    """
    Blend of bottles that is as salty as the rider's sweat.

    Parameters
    ----------
    sodium_mmol_per_l : float
        Whole-body sweat sodium [mmol/L].
    spread_mmol_per_l : tuple of float
        Lower and upper end of its spread [mmol/L].
    base_mg_per_l : float
        Sodium of the standard bottle [mg/L].
    salty_mg_per_l : float or None
        Sodium of the high-sodium bottle, if the team has one [mg/L].
    bottle_l : float
        Volume of a bottle [L].
    food_sodium_mg : float or None
        Sodium of one unit of the salty food that can stand in for the salty bottle [mg].

    Returns
    -------
    PocketBlend
        What to take, and one in how many with its range.

    Notes
    -----
    It answers another question than the plan: equal strength means that the same share of sodium and water comes
    back, while a plan aims at the sodium share the body needs.

    References
    ----------
    .. [1] Source key ``balance_pin``, facts of the trade (f) and (g).

    Examples
    --------
    >>> rule = pocket_rule(47.0, spread_mmol_per_l=(43.0, 51.0), base_mg_per_l=800.0, salty_mg_per_l=3000.0)
    >>> rule.code, round(rule.one_in_n or 0.0, 1)
    ('every_nth_salty', 7.8)
    """
    physical_positive("base_mg_per_l", base_mg_per_l)
    target_mg_per_l = sodium_mg(physical_positive("sodium_mmol_per_l", sodium_mmol_per_l).item())
    code = _code(target_mg_per_l, base_mg_per_l, salty_mg_per_l)
    if code not in {"every_nth_salty", "alternate_water"}:
        return PocketBlend(code, target_mg_per_l)
    strong_mg_per_l = salty_mg_per_l if salty_mg_per_l is not None else base_mg_per_l
    middle, low, high = (
        _one_in(code, sodium_mg(at), base_mg_per_l, strong_mg_per_l)
        for at in (sodium_mmol_per_l, *reversed(spread_mmol_per_l))
    )
    units = None
    if code == "every_nth_salty" and food_sodium_mg:
        units = (strong_mg_per_l - base_mg_per_l) * bottle_l / food_sodium_mg
    return PocketBlend(code, target_mg_per_l, middle, low, high, units)
