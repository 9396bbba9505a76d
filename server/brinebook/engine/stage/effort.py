"""How hard whom rides where: mean power by stage kind and race role, spread over the gradients, and shelter."""

from typing import Literal

import numpy as np

from brinebook.engine.constants import road
from brinebook.engine.errors import finite, physical
from brinebook.engine.units import KCAL_PER_KJ, FloatArray, Floats

StageKind = Literal["flat", "hilly", "mountain", "time_trial", "mountain_time_trial", "rest"]
RaceRole = Literal["leader", "domestique", "breakaway", "sprinter"]
ALONE = ("time_trial", "mountain_time_trial")


def target_power_w(mass_kg: float, *, stage_kind: StageKind, race_role: RaceRole) -> float:
    """
    Mean power of a whole stage.

    Parameters
    ----------
    mass_kg : float
        Rider's body mass [kg].
    stage_kind : str
        What kind of day.
    race_role : str
        What the rider does in the race.

    Returns
    -------
    float
        Time-weighted mean power [W].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    Notes
    -----
    Power of a bunch is not predicted from its drag, which is far too low; measured means are used. Spread between
    riders is 7 percent, from day to day 5 percent.

    References
    ----------
    .. [1] Source key ``vogt2007``.
    .. [2] Source key ``sanmillan2021``.
    """
    finite(mass_kg=mass_kg)
    return mass_kg * road.TARGET_POWER_W_PER_KG[stage_kind][race_role]


def riding_energy_kcal(work_kj: Floats, *, gross_efficiency_frac: float) -> Floats:
    """
    Energy that riding costs a body, rest included.

    Parameters
    ----------
    work_kj : float or array, shape (n,)
        Work at the cranks [kJ].
    gross_efficiency_frac : float
        Gross efficiency [frac].

    Returns
    -------
    float or array, shape (n,)
        Energy [kcal].

    Raises
    ------
    UnphysicalInput
        If the efficiency is outside 0.1-0.4.

    References
    ----------
    .. [1] Source key ``lucia2002``.

    Examples
    --------
    >>> round(riding_energy_kcal(3600.0, gross_efficiency_frac=0.22))
    3911
    """
    finite(work_kj=work_kj, gross_efficiency_frac=gross_efficiency_frac)
    return work_kj * KCAL_PER_KJ / float(physical("gross_efficiency_frac", gross_efficiency_frac, low=0.1, high=0.4))


def riding_work_kj(energy_kcal: Floats, *, gross_efficiency_frac: float) -> Floats:
    """
    Work at the cranks that an energy turns into: the inverse of ``riding_energy_kcal``.

    Parameters
    ----------
    energy_kcal : float or array, shape (n,)
        Energy [kcal].
    gross_efficiency_frac : float
        Gross efficiency [frac].

    Returns
    -------
    float or array, shape (n,)
        Work [kJ].

    Raises
    ------
    UnphysicalInput
        If the efficiency is outside 0.1-0.4.

    References
    ----------
    .. [1] Source key ``lucia2002``.

    Examples
    --------
    >>> round(riding_work_kj(3911.1, gross_efficiency_frac=0.22))
    3600
    """
    finite(energy_kcal=energy_kcal, gross_efficiency_frac=gross_efficiency_frac)
    efficiency = float(physical("gross_efficiency_frac", gross_efficiency_frac, low=0.1, high=0.4))
    return energy_kcal / KCAL_PER_KJ * efficiency


def gradient_weight(gradient_frac: FloatArray, *, to_finish_m: FloatArray, stage_kind: StageKind) -> FloatArray:
    """
    Relative power by gradient and by what is left to ride.

    Parameters
    ----------
    gradient_frac : array, shape (n,)
        Gradient [frac].
    to_finish_m : array, shape (n,)
        Distance left [m].
    stage_kind : str
        What kind of day.

    Returns
    -------
    array, shape (n,)
        Weight; zero on descents steeper than 4 percent.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    weights = np.asarray(road.GRADIENT_WEIGHTS)[np.searchsorted(road.GRADIENT_EDGES_FRAC, gradient_frac, side="right")]
    finale = {"flat": road.FINAL_FACTOR_FLAT, "mountain": road.FINAL_FACTOR_MOUNTAIN}.get(stage_kind, 1.0)
    weights = weights * np.where(to_finish_m <= road.FINAL_STRETCH_M, finale, 1.0)
    return np.asarray(np.where(gradient_frac < road.COASTING_GRADIENT_FRAC, 0.0, weights))


def drag_area_m2(gradient_frac: FloatArray, *, stage_kind: StageKind, race_role: RaceRole) -> FloatArray:
    """
    Drag area with the shelter of the group; a group shelters less uphill.

    Parameters
    ----------
    gradient_frac : array, shape (n,)
        Gradient [frac].
    stage_kind : str
        What kind of day.
    race_role : str
        What the rider does in the race.

    Returns
    -------
    array, shape (n,)
        Drag area [m2].

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    if stage_kind in ALONE:
        return np.full_like(gradient_frac, road.DRAG_AREA_TIME_TRIAL_M2)
    shelter_frac = road.SHELTER_ON_DRAG_FRAC[race_role]
    if stage_kind == "mountain" and race_role == "sprinter":
        shelter_frac = road.SHELTER_GRUPPETTO_FRAC
    climbing = np.where(gradient_frac > road.CLIMB_GRADIENT_FRAC, road.CLIMB_SHELTER_LOSS_FRAC, 0.0)
    return np.asarray(road.DRAG_AREA_ROAD_M2 * np.minimum(shelter_frac + climbing, road.SHELTER_SOLO_FRAC))


def air_speed_shelter_frac(gradient_frac: FloatArray, *, stage_kind: StageKind, race_role: RaceRole) -> FloatArray:
    """
    Share of the free air speed that reaches a rider's skin, for heat exchange.

    Parameters
    ----------
    gradient_frac : array, shape (n,)
        Gradient [frac].
    stage_kind : str
        What kind of day.
    race_role : str
        What the rider does in the race.

    Returns
    -------
    array, shape (n,)
        Share [frac]: 1 alone, 0.9 in a small group or on a climb, 0.6 in the bunch.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    if stage_kind in ALONE:
        return np.full_like(gradient_frac, road.AIR_SPEED_SOLO_FRAC)
    if race_role == "breakaway" or stage_kind == "rest":
        return np.full_like(gradient_frac, road.AIR_SPEED_SMALL_GROUP_FRAC)
    is_climb = gradient_frac > road.CLIMB_GRADIENT_FRAC
    return np.where(is_climb, road.AIR_SPEED_SMALL_GROUP_FRAC, road.AIR_SPEED_BUNCH_FRAC)
