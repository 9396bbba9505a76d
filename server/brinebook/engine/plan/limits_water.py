"""No gain of mass even for the driest forecast, and plasma sodium above its floor whatever fails."""

import numpy as np

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.layout import Matrix, Places, Programme
from brinebook.engine.plan.terms import BottlePlanInput
from brinebook.engine.units import FloatArray, sodium_mmol

SURE_FRAC = 1.0


def allowed_water_l(inp: BottlePlanInput) -> Matrix:
    """
    Most water a plan may have given by the end of each segment.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider and the stage.

    Returns
    -------
    array, shape (k,)
        q10 of the sweat so far plus the stomach allowance; at the finish the q10 of the stage alone [L].
    """
    allowed: Matrix = inp.sweat_q10_l[1:] + inp.limits.stomach_allowance_l
    allowed[-1] = inp.sweat_q10_l[-1]
    return allowed


def plasma_forms(inp: BottlePlanInput, water: Matrix, sodium: Matrix, bound_mmol_per_l: float) -> Matrix:
    """
    Plasma sodium above a bound by what is taken in, times diluted over initial body water.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider.
    water : array, shape (n, m)
        Forms of cumulative water [L].
    sodium : array, shape (n, m)
        Forms of cumulative sodium [mg].
    bound_mmol_per_l : float
        Plasma sodium to compare with [mmol/L].

    Returns
    -------
    array, shape (n, m)
        Linear forms [mmol/L].

    References
    ----------
    .. [1] Source key ``kurtz_nguyen2003``, multiplied out.
    """
    offset = bound_mmol_per_l + c.NK_OFFSET_MMOL_PER_L
    forms: Matrix = (c.NK_SLOPE * sodium_mmol(1.0) * sodium - offset * water) / inp.tbw_l
    return forms


def plasma_by_sweat(
    inp: BottlePlanInput, sweat_l: FloatArray, *, bound_mmol_per_l: float, sodium_mmol_per_l: float,
) -> Matrix:
    """
    Give the same quantity for sweat alone: with the forms above zero the bound is kept.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider.
    sweat_l : array, shape (n,)
        Sweat so far [L].
    bound_mmol_per_l : float
        Plasma sodium to compare with [mmol/L].
    sodium_mmol_per_l : float
        Sweat sodium [mmol/L].

    Returns
    -------
    array, shape (n,)
        Margin without a drink [mmol/L].

    References
    ----------
    .. [1] Source key ``kurtz_nguyen2003``, multiplied out.
    """
    offset = bound_mmol_per_l + c.NK_OFFSET_MMOL_PER_L
    salt = c.NK_SLOPE * (sodium_mmol_per_l + inp.potassium_mmol_per_l)
    alone: Matrix = (inp.plasma_sodium_mmol_per_l - bound_mmol_per_l) + sweat_l * (offset - salt) / inp.tbw_l
    return alone


def hull_places(road_h: FloatArray, *, loss_l: FloatArray, begin_h: float, end_h: float) -> list[int]:
    """
    Find the instants inside a segment at which an even intake comes nearest to an uneven loss.

    Intake is a straight line in time, so it stays below the loss everywhere if it does at the corners of the loss's
    lower convex hull.

    Parameters
    ----------
    road_h : array, shape (n,)
        Instants at which the loss is known [h].
    loss_l : array, shape (n,)
        Loss so far at these instants [L].
    begin_h, end_h : float
        The segment [h].

    Returns
    -------
    list of int
        Places in ``road_h``, the segment's own ends left out.
    """
    inside = np.flatnonzero((road_h > begin_h) & (road_h < end_h))
    times_h = [begin_h, *road_h[inside], end_h]
    level_l = [float(np.interp(begin_h, road_h, loss_l)), *loss_l[inside], float(np.interp(end_h, road_h, loss_l))]
    hull: list[int] = []
    for i in range(len(times_h)):
        while len(hull) > 1:
            a, b = hull[-2], hull[-1]
            turn = (times_h[b] - times_h[a]) * (level_l[i] - level_l[a]) - (level_l[b] - level_l[a]) * (
                times_h[i] - times_h[a])
            if turn > 0.0:
                break
            hull.pop()
        hull.append(i)
    return [int(inside[i - 1]) for i in hull if 0 < i < len(times_h) - 1]


def checks_of(inp: BottlePlanInput) -> tuple[Matrix, Matrix]:
    """
    Lay out the instants at which the limits on water are held.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider and the stage.

    Returns
    -------
    tuple of array
        Share of each segment past by each instant, shape (n, k) [frac], and the q10 loss by then [L]. The first k
        instants are the ends of the segments.
    """
    n_segments = len(inp.times_h) - 1
    shares, losses_l = [np.tri(n_segments)], [inp.sweat_q10_l[1:]]
    if inp.road_h is not None and inp.road_q10_l is not None:
        for k, (begin_h, end_h) in enumerate(zip(inp.times_h[:-1], inp.times_h[1:], strict=True)):
            places = hull_places(inp.road_h, loss_l=inp.road_q10_l, begin_h=begin_h, end_h=end_h)
            past = np.zeros((len(places), n_segments))
            past[:, :k] = 1.0
            past[:, k] = (inp.road_h[places] - begin_h) / (end_h - begin_h)
            shares.append(past)
            losses_l.append(inp.road_q10_l[places])
    return np.vstack(shares), np.concatenate(losses_l)


def _credited(inp: BottlePlanInput, programme: Programme, places: Places, bound_mmol_per_l: float) -> Matrix:
    """
    Leave out what lifts plasma sodium unless it is sure to be there: a missed hand-up must not cross the floor.

    Every drink thinner than the isonatric fluid lowers plasma sodium, so missing one only lifts it; salty food is
    what must not be counted on once a feed has been passed that may have failed. What is left out is summed up in
    ``places``; the forms are those at the end of each segment.
    """
    columns, n_segments = programme.columns, len(inp.times_h) - 1
    steps = plasma_forms(inp, programme.water, programme.sodium, bound_mmol_per_l)
    odds_frac = np.ones(n_segments) if inp.hand_up_odds_frac is None else np.asarray(inp.hand_up_odds_frac)
    is_unsure = np.minimum.accumulate(odds_frac) < SURE_FRAC
    left_out = np.maximum(steps, 0.0) * is_unsure[:, np.newaxis]
    water, sodium = programme.so_far(columns.water_so_far), programme.so_far(columns.sodium_so_far)
    return plasma_forms(inp, water, sodium, bound_mmol_per_l) - programme.run(places, left_out)


def tail_l(inp: BottlePlanInput) -> Matrix:
    """
    Give the loss that one stage in a thousand stays below: the forecast's lower half drawn on, on the log scale.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider and the stage.

    Returns
    -------
    array, shape (k,)
        Loss by the end of each segment [L].

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    q10_l, q50_l = inp.sweat_q10_l[1:], inp.sweat_q50_l[1:]
    ratio = np.divide(q10_l, q50_l, out=np.ones_like(q10_l), where=q50_l > 0.0)
    drawn: Matrix = q50_l * ratio ** (c.TAIL_SD_N / c.TENTH_SD_N)
    return drawn


def _limit_tail(inp: BottlePlanInput, programme: Programme, sodium_high: float) -> None:
    """Keep even the body that sweats least, with salty sweat, above the bound at which low blood sodium begins."""
    bound = c.HYPONATRAEMIA_MMOL_PER_L
    forms = _credited(inp, programme, programme.columns.uncounted[1], bound)
    alone = plasma_by_sweat(inp, tail_l(inp), bound_mmol_per_l=bound, sodium_mmol_per_l=sodium_high)
    programme.rows.at_most("plasma_tail", -forms, alone, near=c.NEAR_PLASMA_MMOL_PER_L)


def limit_water(inp: BottlePlanInput, programme: Programme, *, is_cool_minimum_held: bool) -> None:
    """
    Add the rows on water and on plasma sodium.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.
    programme : Programme
        Gets the rows.
    is_cool_minimum_held : bool
        Whether the least water of a cool stage is a limit.

    Returns
    -------
    None
        The rows stand in the programme.

    Notes
    -----
    Plasma sodium multiplied out is linear in the loss, and with sweat thinner than the isonatric fluid it rises with
    the loss: the floor at q10 holds at q50 and q90 too. The rows at q90 stand for sweat that is thicker.

    References
    ----------
    .. [1] Source key ``mcdermott2017``, ``hew_butler2015``.
    """
    rows, limits, columns = programme.rows, inp.limits, programme.columns
    shares, q10_l = checks_of(inp)
    between = shares.copy()
    between[:, :-1] -= shares[:, 1:]
    water = between @ programme.so_far(columns.water_so_far)
    allowed_l = q10_l + limits.stomach_allowance_l
    allowed_l[: len(inp.times_h) - 1] = allowed_water_l(inp)
    rows.at_most("water_q10", water, allowed_l, near=c.NEAR_WATER_L)
    floor = limits.plasma_floor_mmol_per_l
    high = inp.sodium_mmol_per_l if inp.sodium_high_mmol_per_l is None else inp.sodium_high_mmol_per_l
    ends = _credited(inp, programme, columns.uncounted[0], floor)
    alone = plasma_by_sweat(inp, q10_l, bound_mmol_per_l=floor, sodium_mmol_per_l=high)
    rows.at_most("plasma_floor", -between @ ends, alone, near=c.NEAR_PLASMA_MMOL_PER_L)
    _limit_tail(inp, programme, high)
    if c.NK_SLOPE * (high + inp.potassium_mmol_per_l) > floor + c.NK_OFFSET_MMOL_PER_L:
        alone = plasma_by_sweat(inp, inp.sweat_q90_l[1:], bound_mmol_per_l=floor, sodium_mmol_per_l=high)
        rows.at_most("plasma_floor", -ends, alone, near=c.NEAR_PLASMA_MMOL_PER_L)
    if is_cool_minimum_held:
        least_l = inp.sweat_q50_l[-1] - limits.tolerated_deficit_cool_frac * inp.mass_kg
        rows.at_most("cool_minimum", -water[len(columns.drunk) - 1], -least_l)
