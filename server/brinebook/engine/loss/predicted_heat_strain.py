"""Predicted heat strain of ISO 7933, 2004 and 2023: a comparison inside its own range, never the rider's forecast."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from brinebook.engine.constants import heat_strain as iso
from brinebook.engine.constants import sweat as k
from brinebook.engine.constants.heat_strain import EDITION_2004, EDITION_2023, HeatStrainEdition
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.loss.clothed_exchange import Surroundings
from brinebook.engine.loss.heat_strain_minutes import first_minute, next_minute, strain_work
from brinebook.engine.units import FloatArray, Floats
from brinebook.engine.validity import Violation, range_violations

# Arrays of this many cases stay in the processor's cache through all minutes.
BLOCK_N = 5000


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatExposure:
    """
    Work in heat: n cases, each field a float or an array of shape (n,); drink, mass, height and time hold for all.

    Without a walking speed the walk is guessed from metabolic rate; without an emissivity the cloth is the edition's.
    """

    air_temperature_c: Floats
    radiant_temperature_c: Floats
    vapour_pressure_kpa: Floats
    air_speed_m_per_s: Floats
    metabolic_rate_w_per_m2: Floats
    clothing_clo: Floats
    posture: str | Sequence[str] = "standing"
    is_acclimatised: bool | Sequence[bool] = True
    is_drinking: bool = True
    mechanical_w_per_m2: Floats = 0.0
    walk_m_per_s: Floats = 0.0
    wind_angle_deg: Floats = 0.0
    reflective_area_frac: Floats = iso.REFLECTIVE_AREA_FRAC
    reflective_emissivity_frac: float | None = None
    mass_kg: float = 75.0
    height_m: float = 1.80
    duration_min: int = 480


@dataclass(frozen=True, slots=True)
class HeatStrain:
    """Strain at the end, and the minutes at which rectal temperature and two water losses reach their limits."""

    rectal_c: FloatArray
    core_c: FloatArray
    skin_c: FloatArray
    sweat_rate_w_per_m2: FloatArray
    water_loss_g: FloatArray
    rectal_limit_min: FloatArray
    mean_loss_limit_min: FloatArray
    cautious_loss_limit_min: FloatArray


def predicted_heat_strain_iso7933_2004(
    exposure: HeatExposure, *, edition: HeatStrainEdition = EDITION_2004
) -> HeatStrain:
    """
    Core temperature and water loss of an average worker in heat, ISO 7933:2004.

    Parameters
    ----------
    exposure : HeatExposure
        n cases of work in heat.
    edition : HeatStrainEdition
        Parameters, the edition's own unless a comparison needs others.

    Returns
    -------
    HeatStrain
        Arrays of shape (n,). The water loss includes respiratory water.

    Raises
    ------
    UnphysicalInput
        If an input is impossible or outside Annex A: above 3 m/s the model turns back to still air.

    Notes
    -----
    Minute steps. Clothing temperature is solved by Newton, core temperature in closed form, both to the last digit.
    A racing cyclist's metabolic rate is outside the range, so this never enters a forecast.

    References
    ----------
    .. [1] Source key ``iso7933``.

    Examples
    --------
    >>> strain = predicted_heat_strain_iso7933_2004(HeatExposure(
    ...     air_temperature_c=40.0, radiant_temperature_c=40.0, vapour_pressure_kpa=2.5, air_speed_m_per_s=0.3,
    ...     metabolic_rate_w_per_m2=150.0, clothing_clo=0.5,
    ... ))
    >>> round(float(strain.water_loss_g)), round(float(strain.rectal_c), 1)
    (6168, 37.5)
    """
    return _strain(exposure, edition)


def predicted_heat_strain_iso7933_2023(
    exposure: HeatExposure, *, edition: HeatStrainEdition = EDITION_2023
) -> HeatStrain:
    """
    Core temperature and water loss of an average worker in heat, ISO 7933:2023.

    Parameters
    ----------
    exposure : HeatExposure
        n cases of work in heat.
    edition : HeatStrainEdition
        Parameters, the edition's own unless a comparison needs others.

    Returns
    -------
    HeatStrain
        Arrays of shape (n,). The water loss includes respiratory water; there is one water limit, given twice.

    Raises
    ------
    UnphysicalInput
        If an input is impossible or outside Annex A.

    Notes
    -----
    Read from open libraries, not from the standard: hold it loosely.

    References
    ----------
    .. [1] Source key ``iso7933``.

    Examples
    --------
    >>> strain = predicted_heat_strain_iso7933_2023(HeatExposure(
    ...     air_temperature_c=40.0, radiant_temperature_c=40.0, vapour_pressure_kpa=2.58, air_speed_m_per_s=0.3,
    ...     metabolic_rate_w_per_m2=157.0, clothing_clo=0.5,
    ... ))
    >>> 6200 < float(strain.water_loss_g) < 6700
    True
    """
    return _strain(exposure, edition)


def heat_strain_violations(exposure: HeatExposure, *, edition: HeatStrainEdition) -> tuple[Violation, ...]:
    """
    Say what puts an exposure outside Annex A, without refusing it.

    Parameters
    ----------
    exposure : HeatExposure
        n cases of work in heat.
    edition : HeatStrainEdition
        Edition of the standard.

    Returns
    -------
    tuple of Violation
        The worst value of each quantity out of range; empty inside.

    References
    ----------
    .. [1] Source key ``iso7933``.
    """
    return tuple(
        violation
        for quantity, values in _ranged(exposure)
        for violation in range_violations(
            edition.model, quantity, values, low=edition.ranges[quantity][0], high=edition.ranges[quantity][1]
        )
    )


def _ranged(exposure: HeatExposure) -> Iterator[tuple[str, FloatArray]]:
    for quantity in ("air_temperature_c", "vapour_pressure_kpa", "air_speed_m_per_s", "metabolic_rate_w_per_m2",
                     "clothing_clo"):
        yield quantity, physical(quantity, getattr(exposure, quantity))
    radiant = physical("radiant_temperature_c", exposure.radiant_temperature_c)
    yield "radiant_excess_c", radiant - physical("air_temperature_c", exposure.air_temperature_c)


def _strain(exposure: HeatExposure, edition: HeatStrainEdition) -> HeatStrain:
    for quantity, values in _ranged(exposure):
        low, high = edition.ranges[quantity]
        physical(quantity, values, low=low, high=high)
    if exposure.duration_min < 1:
        raise UnphysicalInput("duration_min", exposure.duration_min)
    columns, shape = _columns(exposure)
    if exposure.reflective_emissivity_frac is not None:
        emissivity = physical("reflective_emissivity_frac", exposure.reflective_emissivity_frac, low=0.0, high=1.0)
        edition = replace(edition, reflective_emissivity_frac=float(emissivity))
    n = columns["air_temperature_c"].size
    blocks = [
        _block_strain({name: column[start : start + BLOCK_N] for name, column in columns.items()}, exposure, edition)
        for start in range(0, n, BLOCK_N)
    ]
    return HeatStrain(*(
        np.concatenate([getattr(block, field.name) for block in blocks]).reshape(shape) for field in fields(HeatStrain)
    ))


def _columns(exposure: HeatExposure) -> tuple[dict[str, FloatArray], tuple[int, ...]]:
    postures = np.atleast_1d(np.asarray(exposure.posture))
    unknown = [posture for posture in postures.tolist() if posture not in iso.RADIATING_AREA_FRAC]
    if unknown:
        raise UnphysicalInput(f"posture {unknown[0]}", np.nan)
    area = np.array([iso.RADIATING_AREA_FRAC[posture] for posture in postures.tolist()])
    named: dict[str, FloatArray] = {
        "reflective_area_frac": physical("reflective_area_frac", exposure.reflective_area_frac, low=0.0, high=1.0),
        "radiating_area_frac": area.reshape(np.shape(exposure.posture)),
        "is_acclimatised": np.asarray(exposure.is_acclimatised, dtype=np.float64),
        "mechanical_w_per_m2": physical("mechanical_w_per_m2", exposure.mechanical_w_per_m2, low=0.0),
        "walk_m_per_s": physical("walk_m_per_s", exposure.walk_m_per_s, low=0.0),
        "wind_angle_deg": physical("wind_angle_deg", exposure.wind_angle_deg),
    }
    for name in ("air_temperature_c", "radiant_temperature_c", "vapour_pressure_kpa", "air_speed_m_per_s",
                 "metabolic_rate_w_per_m2", "clothing_clo"):
        named[name] = physical(name, getattr(exposure, name))
    together = np.broadcast_arrays(*named.values())
    columns = {name: np.ravel(column) for name, column in zip(named, together, strict=True)}
    return columns, together[0].shape


def _block_strain(columns: dict[str, FloatArray], exposure: HeatExposure, edition: HeatStrainEdition) -> HeatStrain:
    place = Surroundings(**{field.name: columns[field.name] for field in fields(Surroundings)})
    surface_m2 = _body_surface_m2(exposure)
    work = strain_work(
        place, is_acclimatised=columns["is_acclimatised"], mechanical_w_per_m2=columns["mechanical_w_per_m2"],
        mass_kg=exposure.mass_kg, surface_m2=surface_m2, edition=edition,
    )
    g_per_w_per_m2 = iso.WATER_G_PER_W_MIN * surface_m2
    w_per_frac = exposure.mass_kg * 1000.0 / g_per_w_per_m2
    mean_limit, cautious_limit = (frac * w_per_frac for frac in _limits(exposure, edition))
    breath = work.exchange.breath_evaporation_w_per_m2
    state = first_minute(work, edition)
    lost, hottest_c = state.sweat_w_per_m2 + breath, state.rectal_c
    below_n = np.zeros((3, breath.size))
    for minute in range(exposure.duration_min):
        if minute > 0:
            state = next_minute(state, work)
            lost = lost + (state.sweat_w_per_m2 + breath)
            hottest_c = np.maximum(hottest_c, state.rectal_c)
        below_n[0] += hottest_c < iso.RECTAL_LIMIT_C
        below_n[1] += lost < mean_limit
        below_n[2] += lost < cautious_limit
    # A limit first reached in minute m was missed in m - 1 minutes; one never reached stands at the end.
    limits_min = np.minimum(below_n + 1.0, exposure.duration_min)
    if not exposure.is_drinking:
        is_reached = below_n[1:] < exposure.duration_min
        limits_min[1:] *= np.where(is_reached, edition.dry_time_frac, 1.0)
    return HeatStrain(
        state.rectal_c, state.core_c, state.skin_c, state.sweat_w_per_m2, lost * g_per_w_per_m2, *limits_min
    )


def _limits(exposure: HeatExposure, edition: HeatStrainEdition) -> tuple[float, float]:
    """Return the share of body mass that may be lost: mean person, 95 % of people."""
    if exposure.is_drinking:
        return edition.mean_loss_frac, edition.cautious_loss_frac
    return edition.dry_loss_frac, edition.dry_loss_frac


def _body_surface_m2(exposure: HeatExposure) -> float:
    mass_kg = float(physical_positive("mass_kg", exposure.mass_kg))
    height_m = float(physical_positive("height_m", exposure.height_m))
    return float(iso.BODY_SURFACE_FACTOR * mass_kg**k.DUBOIS_MASS_EXPONENT * height_m**k.DUBOIS_HEIGHT_EXPONENT)
