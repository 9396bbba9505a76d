"""One minute of ISO 7933 after the other: skin, cloth, sweat and core of n bodies at once."""

from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import heat_strain as iso
from brinebook.engine.constants import sweat as k
from brinebook.engine.constants.heat_strain import HeatStrainEdition
from brinebook.engine.loss.clothed_exchange import (
    ClothedExchange,
    Surroundings,
    clothed_exchange,
    clothing_temperature_c,
    natural_w_per_m2_k,
)
from brinebook.engine.loss.heat_balance import saturation_pressure_kpa
from brinebook.engine.units import FloatArray

TINY = float(np.finfo(np.float64).tiny)
SKIN_KEPT_FRAC = float(np.exp(-1.0 / iso.SKIN_TIME_MIN))
CORE_KEPT_FRAC = float(np.exp(-1.0 / iso.CORE_TIME_MIN))
# Newton steps from scratch, and from the minute before.
FIRST_STEPS_N, NEXT_STEPS_N = 8, 2


@dataclass(frozen=True, slots=True)
class StrainWork:
    """What stays the same from minute to minute, each of shape (n,)."""

    exchange: ClothedExchange
    vapour_pressure_kpa: FloatArray
    radiant_temperature_c: FloatArray
    heat_w_per_m2: FloatArray
    convection_w_per_m2_k: FloatArray
    core_balance_c: FloatArray
    skin_base_c: FloatArray
    skin_per_rectal_frac: FloatArray
    sweat_max_w_per_m2: FloatArray
    wettedness_max_frac: FloatArray
    body_heat_w_min_per_m2_k: float


@dataclass(frozen=True, slots=True)
class StrainState:
    """What one minute hands to the next, each of shape (n,)."""

    skin_c: FloatArray
    core_c: FloatArray
    rectal_c: FloatArray
    core_aim_c: FloatArray
    shell_frac: FloatArray
    sweat_w_per_m2: FloatArray
    cloth_c: FloatArray


def strain_work(
    place: Surroundings,
    *,
    is_acclimatised: FloatArray,
    mechanical_w_per_m2: FloatArray,
    mass_kg: float,
    surface_m2: float,
    edition: HeatStrainEdition,
) -> StrainWork:
    """
    Make n cases ready for their minutes.

    Parameters
    ----------
    place : Surroundings
        Air, radiation, cloth and walk of n cases.
    is_acclimatised : array, shape (n,)
        One for an acclimatised body, else zero.
    mechanical_w_per_m2 : array, shape (n,)
        Mechanical power given to the outside [W/m2].
    mass_kg : float
        Body mass [kg].
    surface_m2 : float
        Body surface [m2].
    edition : HeatStrainEdition
        Edition of the standard.

    Returns
    -------
    StrainWork
        Arrays of shape (n,).

    References
    ----------
    .. [1] Source key ``iso7933``.
    """
    exchange = clothed_exchange(place, edition)
    rate, is_ready = place.metabolic_rate_w_per_m2, is_acclimatised > 0.0
    sweat_max = np.full_like(rate, edition.sweat_max_w_per_m2)
    if edition.has_sweat_cap_by_rate:
        by_rate = (rate - edition.sweat_cap_offset_w_per_m2) * surface_m2
        sweat_max = np.clip(by_rate, edition.sweat_min_cap_w_per_m2, edition.sweat_max_w_per_m2)
    skin_base, skin_per_rectal = _skin_line(place)
    breath = exchange.breath_w_per_m2 + exchange.breath_evaporation_w_per_m2
    # Open libraries fix the natural term at the start, from skin (2004) or cloth (2023); it bears below 0.5 m/s only.
    surface_c = iso.START_SKIN_C if edition.is_convection_from_skin else place.radiant_temperature_c + 0.1
    natural = natural_w_per_m2_k(surface_c - place.air_temperature_c)
    return StrainWork(
        exchange=exchange,
        vapour_pressure_kpa=place.vapour_pressure_kpa,
        radiant_temperature_c=place.radiant_temperature_c,
        heat_w_per_m2=rate - mechanical_w_per_m2 - breath,
        convection_w_per_m2_k=np.maximum(exchange.forced_w_per_m2_k, natural),
        core_balance_c=iso.CORE_BALANCE_PER_W_PER_M2 * rate + iso.CORE_BALANCE_C,
        skin_base_c=skin_base,
        skin_per_rectal_frac=skin_per_rectal,
        sweat_max_w_per_m2=np.where(is_ready, edition.acclimatised_gain_frac, 1.0) * sweat_max,
        wettedness_max_frac=np.where(is_ready, 1.0, iso.WETTEDNESS_MAX_FRAC),
        body_heat_w_min_per_m2_k=edition.body_heat_w_min_per_kg_k * mass_kg / surface_m2,
    )


def _skin_line(place: Surroundings) -> tuple[FloatArray, FloatArray]:
    """Return the skin temperature in balance as a line in rectal temperature: base and slope."""
    base, air, radiant, vapour, speed, rate, rectal = iso.SKIN_CLOTHED
    ta, tr, pa, va = (
        place.air_temperature_c, place.radiant_temperature_c, place.vapour_pressure_kpa, place.air_speed_m_per_s
    )
    clothed = base + air * ta + radiant * tr + vapour * pa - speed * va + rate * place.metabolic_rate_w_per_m2
    nude = (
        k.SKIN_BASE_C + k.SKIN_PER_AIR_C * ta + k.SKIN_PER_RADIANT_C * tr + k.SKIN_PER_KPA * pa
        - k.SKIN_PER_M_PER_S * va
    )
    width_clo = iso.CLOTHED_FROM_CLO - iso.NUDE_UP_TO_CLO
    share = np.clip((place.clothing_clo - iso.NUDE_UP_TO_CLO) / width_clo, 0.0, 1.0)
    return nude + (clothed - nude) * share, k.SKIN_PER_CORE_C + (rectal - k.SKIN_PER_CORE_C) * share


def first_minute(work: StrainWork, edition: HeatStrainEdition) -> StrainState:
    """
    State of a rested body one minute into the work.

    Parameters
    ----------
    work : StrainWork
        n cases made ready.
    edition : HeatStrainEdition
        Edition of the standard; 2023 lets the skin settle at once.

    Returns
    -------
    StrainState
        Arrays of shape (n,).

    References
    ----------
    .. [1] Source key ``iso7933``.
    """
    one = np.ones_like(work.core_balance_c)
    rested = StrainState(
        skin_c=iso.START_SKIN_C * one,
        core_c=iso.START_CORE_C * one,
        rectal_c=iso.START_CORE_C * one,
        core_aim_c=iso.START_CORE_C * one,
        shell_frac=iso.SHELL_SHARE_MAX_FRAC * one,
        sweat_w_per_m2=0.0 * one,
        cloth_c=work.radiant_temperature_c,
    )
    kept_frac = 0.0 if edition.is_skin_settled_at_start else SKIN_KEPT_FRAC
    return next_minute(rested, work, skin_kept_frac=kept_frac, n_steps=FIRST_STEPS_N)


def next_minute(
    state: StrainState, work: StrainWork, *, skin_kept_frac: float = SKIN_KEPT_FRAC, n_steps: int = NEXT_STEPS_N
) -> StrainState:
    """
    State one minute later.

    Parameters
    ----------
    state : StrainState
        State now.
    work : StrainWork
        n cases made ready.
    skin_kept_frac : float
        Share of the old skin temperature that a minute keeps [frac].
    n_steps : int
        Newton steps for the clothing temperature.

    Returns
    -------
    StrainState
        Arrays of shape (n,).

    References
    ----------
    .. [1] Source key ``iso7933``.
    """
    core_aim = state.core_aim_c * CORE_KEPT_FRAC + work.core_balance_c * (1.0 - CORE_KEPT_FRAC)
    aimed_w_per_m2 = work.body_heat_w_min_per_m2_k * (core_aim - state.core_aim_c) * (1.0 - state.shell_frac)
    skin_aim = work.skin_base_c + work.skin_per_rectal_frac * state.rectal_c
    skin = state.skin_c * skin_kept_frac + skin_aim * (1.0 - skin_kept_frac)
    cloth = clothing_temperature_c(
        state.cloth_c, skin_c=skin, body=work.exchange, convection_w_per_m2_k=work.convection_w_per_m2_k,
        n_steps=n_steps,
    )
    # Convection and radiation together are what passes through the cloth.
    dry = (skin - cloth) / work.exchange.cloth_m2_k_per_w
    vapour_excess_kpa = saturation_pressure_kpa(skin) - work.vapour_pressure_kpa
    can = np.maximum(vapour_excess_kpa / work.exchange.vapour_m2_kpa_per_w, 0.0)
    needed = np.maximum(work.heat_w_per_m2 - aimed_w_per_m2 - dry, 0.0)
    sweat_aim = _sweat_aim_w_per_m2(needed, can, work.sweat_max_w_per_m2)
    sweat = state.sweat_w_per_m2 * CORE_KEPT_FRAC + sweat_aim * (1.0 - CORE_KEPT_FRAC)
    # Predicted wettedness is -k + sqrt(k^2 + 2) with k = Emax / SW; in this form nothing cancels or divides by zero.
    root = can + np.sqrt(can * can + 2.0 * sweat * sweat)
    wetted = np.minimum(work.wettedness_max_frac, 2.0 * sweat / np.maximum(root, TINY))
    stored_w_per_m2 = needed - wetted * can + aimed_w_per_m2
    core, shell = _core_c(state, skin, stored_w_per_m2 / work.body_heat_w_min_per_m2_k)
    rectal_step = iso.RECTAL_PER_CORE * core - iso.RECTAL_PER_RECTAL * state.rectal_c - iso.RECTAL_BASE_C
    return StrainState(skin, core, state.rectal_c + rectal_step / iso.RECTAL_DIVISOR, core_aim, shell, sweat, cloth)


def _sweat_aim_w_per_m2(needed: FloatArray, can: FloatArray, sweat_max_w_per_m2: FloatArray) -> FloatArray:
    wetted = needed / np.maximum(can, TINY)
    dry_share = np.maximum(2.0 - wetted, 0.0)
    efficiency = np.where(wetted <= 1.0, 1.0 - 0.5 * wetted * wetted, 0.5 * dry_share * dry_share)
    aim = np.minimum(needed / np.maximum(efficiency, iso.EFFICIENCY_MIN_FRAC), sweat_max_w_per_m2)
    return np.where(wetted >= iso.WETTEDNESS_STREAMING, sweat_max_w_per_m2, aim)


def _core_c(state: StrainState, skin: FloatArray, warmed_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Solve the core temperature whose own shell share closes the heat balance: a quadratic between two lines."""
    total = warmed_c + 0.5 * state.skin_c * state.shell_frac + state.core_c * (1.0 - 0.5 * state.shell_frac)
    slope = iso.SHELL_SHARE_PER_C
    at_zero = iso.SHELL_SHARE_MAX_FRAC + slope * iso.START_CORE_C
    linear = 1.0 - 0.5 * at_zero - 0.5 * slope * skin
    constant = 0.5 * at_zero * skin - total
    root = (np.sqrt(np.maximum(linear * linear - 2.0 * slope * constant, 0.0)) - linear) / slope
    shell = np.clip(at_zero - slope * root, iso.SHELL_SHARE_MIN_FRAC, iso.SHELL_SHARE_MAX_FRAC)
    # Where the share is clipped the balance is a line; elsewhere this repeats the root.
    return (total - 0.5 * skin * shell) / (1.0 - 0.5 * shell), shell
