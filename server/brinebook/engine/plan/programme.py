"""The bottle plan as a mixed-integer linear programme: variables, limits and penalties."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.terms import BottlePlanInput
from brinebook.engine.units import sodium_mmol

Matrix = NDArray[np.float64]
HOUR_H = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Where each variable stands: integers first; every block has one row per segment."""

    bottles: NDArray[np.int64]
    foods: NDArray[np.int64]
    carried: NDArray[np.int64]
    drunk: NDArray[np.int64]
    water_off: NDArray[np.int64]
    """Above and below the target."""
    sodium_off: NDArray[np.int64]
    carbohydrate_short: int
    deficit: NDArray[np.int64]
    plasma: NDArray[np.int64]
    peak: int
    n_all: int

    @property
    def n_integers(self) -> int:
        """Integers are bottles, foods and bottles carried on."""
        return self.bottles.size + self.foods.size + self.carried.size


@dataclass(slots=True, eq=False)
class Rows:
    """Rows ``low <= coefficients @ x <= high``, each with the code of its limit and what counts as near it."""

    coefficients: list[Matrix] = field(default_factory=list)
    low: list[Matrix] = field(default_factory=list)
    high: list[Matrix] = field(default_factory=list)
    codes: list[str] = field(default_factory=list)
    near: list[float] = field(default_factory=list)

    def at_most(self, code: str, coefficients: Matrix, high: Matrix | float, *, near: float = 0.0) -> None:
        """Add one row per line of ``coefficients``; an empty code is bookkeeping, not a limit."""
        block = np.atleast_2d(coefficients)
        self.coefficients.append(block)
        self.low.append(np.full(len(block), -np.inf))
        self.high.append(np.broadcast_to(np.asarray(high, dtype=np.float64), (len(block),)))
        self.codes += [code] * len(block)
        self.near += [near] * len(block)

    def equal(self, coefficients: Matrix, value: Matrix | float) -> None:
        """Add bookkeeping rows that hold exactly."""
        self.at_most("", coefficients, value)
        self.low[-1] = self.high[-1]


@dataclass(frozen=True, slots=True, eq=False)
class Programme:
    """All of a plan: columns, rows, bounds and costs, and the linear forms that read a solution."""

    columns: Columns
    rows: Rows
    upper: Matrix
    cost: Matrix
    water: Matrix
    """Cumulative water [L] at the end of each segment is ``water @ x``."""
    sodium: Matrix
    carbohydrate: Matrix


def columns_of(inp: BottlePlanInput) -> Columns:
    """
    Lay out the variables.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.

    Returns
    -------
    Columns
        Index of every variable.
    """
    n_segments, n_drinks, n_foods = len(inp.times_h) - 1, len(inp.drinks), len(inp.foods)
    n_carried = 0 if inp.limits.is_every_bottle_emptied else n_drinks
    used = 0
    blocks: list[NDArray[np.int64]] = []
    for width in (n_drinks, n_foods, n_carried, n_drinks):
        blocks.append(np.arange(used, used + n_segments * width).reshape(n_segments, width))
        used += n_segments * width
    tail = np.arange(used, used + 6 + 2 * n_segments)
    deficit, plasma = tail[6 : 6 + n_segments], tail[6 + n_segments :]
    bottles, foods, carried, drunk = blocks
    return Columns(
        bottles, foods, carried, drunk, tail[:2], tail[2:4], int(tail[4]), deficit, plasma, int(tail[5]),
        used + len(tail),
    )


def _forms(inp: BottlePlanInput, columns: Columns, per_drink: list[float], per_food: list[float]) -> Matrix:
    """Per-segment linear forms from what a litre of each drink and a unit of each food bring."""
    forms = np.zeros((len(inp.times_h) - 1, columns.n_all))
    for k in range(len(forms)):
        forms[k, columns.drunk[k]] = per_drink
        forms[k, columns.foods[k]] = per_food
    return forms


def hour_windows_frac(times_h: Matrix) -> Matrix:
    """
    Share of each segment that lies in each hour that begins or ends at a feed.

    Drinking is even within a segment, so the fullest hour always begins or ends at a feed.

    Parameters
    ----------
    times_h : array, shape (k + 1,)
        Instants of start, feeds and finish [h].

    Returns
    -------
    array, shape (n, k)
        One row per window; a stage shorter than an hour is one window [frac].
    """
    first, last = times_h[0], times_h[-1]
    width_h = min(HOUR_H, float(last - first))
    begins = np.concatenate([times_h, times_h - width_h])
    begins = np.unique(np.clip(begins, first, last - width_h))[:, np.newaxis]
    overlap_h = np.minimum(begins + width_h, times_h[1:]) - np.maximum(begins, times_h[:-1])
    shares: Matrix = np.maximum(overlap_h, 0.0) / np.diff(times_h)
    return shares


def _limit_rates(inp: BottlePlanInput, rows: Rows, volume: Matrix, sodium: Matrix, carbohydrate: Matrix) -> None:
    """Mean rates over the stage and rates in any hour."""
    limits, stage_h = inp.limits, float(inp.times_h[-1] - inp.times_h[0])
    hours, width_h = hour_windows_frac(inp.times_h), min(HOUR_H, stage_h)
    rows.at_most("mean_rate", volume.sum(axis=0), limits.max_intake_l_per_h * stage_h, near=c.NEAR_WATER_L)
    rows.at_most("any_hour", hours @ volume, limits.max_any_hour_l_per_h * width_h, near=c.NEAR_WATER_L)
    rows.at_most("sodium_per_h", hours @ sodium, limits.max_sodium_mg_per_h * width_h, near=c.NEAR_SODIUM_MG)
    lost_mg = inp.sodium_mmol_per_l * float(inp.sweat_q50_l[-1]) / sodium_mmol(1.0)
    rows.at_most("sodium_total", sodium.sum(axis=0), lost_mg, near=c.NEAR_SODIUM_MG)
    cap_g_per_h = limits.max_carbohydrate_g_per_h
    rows.at_most("carbohydrate", carbohydrate.sum(axis=0), cap_g_per_h * stage_h, near=c.NEAR_CARBOHYDRATE_G)
    per_segment_g = cap_g_per_h * np.diff(inp.times_h) + limits.carbohydrate_allowance_g
    rows.at_most("carbohydrate", carbohydrate, per_segment_g, near=c.NEAR_CARBOHYDRATE_G)


def _limit_stomach(inp: BottlePlanInput, rows: Rows, volume: Matrix) -> None:
    """Stomach content under even drinking and first-order emptying, at the end of each segment."""
    content = np.zeros(volume.shape[1])
    for k, duration_h in enumerate(np.diff(inp.times_h)):
        emptied = c.EMPTYING_PER_H * duration_h
        content = content * np.exp(-emptied) + volume[k] * (-np.expm1(-emptied) / emptied)
        rows.at_most("stomach", content, inp.limits.max_stomach_l, near=c.NEAR_WATER_L)


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


def _plasma_forms(inp: BottlePlanInput, water: Matrix, sodium: Matrix, bound_mmol_per_l: float) -> Matrix:
    """Plasma sodium above ``bound``, times diluted over initial body water, less what sweat alone does."""
    offset = bound_mmol_per_l + c.NK_OFFSET_MMOL_PER_L
    forms: Matrix = (c.NK_SLOPE * sodium_mmol(1.0) * sodium - offset * water) / inp.tbw_l
    return forms


def _plasma_without_drink(inp: BottlePlanInput, sweat_l: Matrix, bound_mmol_per_l: float) -> Matrix:
    """Return the same quantity for sweat alone: above zero the bound is kept."""
    offset = bound_mmol_per_l + c.NK_OFFSET_MMOL_PER_L
    salt = c.NK_SLOPE * (inp.sodium_mmol_per_l + inp.potassium_mmol_per_l)
    alone: Matrix = (inp.plasma_sodium_mmol_per_l - bound_mmol_per_l) + sweat_l * (offset - salt) / inp.tbw_l
    return alone


def _limit_water(inp: BottlePlanInput, programme: Programme, *, is_cool_minimum_held: bool) -> None:
    """No gain of mass even for the driest forecast, and plasma sodium above its floor for both ends."""
    rows, columns, floor = programme.rows, programme.columns, inp.limits.plasma_floor_mmol_per_l
    rows.at_most("water_q10", programme.water, allowed_water_l(inp), near=c.NEAR_WATER_L)
    forms = _plasma_forms(inp, programme.water, programme.sodium, floor)
    for sweat_l in (inp.sweat_q10_l[1:], inp.sweat_q90_l[1:]):
        rows.at_most("plasma_floor", -forms, _plasma_without_drink(inp, sweat_l, floor), near=c.NEAR_PLASMA_MMOL_PER_L)
    ceiling = inp.limits.plasma_ceiling_mmol_per_l
    above = _plasma_forms(inp, programme.water, programme.sodium, ceiling)
    above[np.arange(len(above)), columns.plasma] = -1.0
    rows.at_most("", above, -_plasma_without_drink(inp, inp.sweat_q50_l[1:], ceiling))
    if is_cool_minimum_held:
        least_l = inp.sweat_q50_l[-1] - inp.limits.tolerated_deficit_cool_frac * inp.mass_kg
        rows.at_most("cool_minimum", -programme.water[-1], -least_l)


def _limit_carrying(inp: BottlePlanInput, rows: Rows, columns: Columns) -> None:
    """Bottles are drunk after they are handed up, fit hands and cages, and strong drinks come with water."""
    n_segments, limits = len(inp.times_h) - 1, inp.limits
    held = np.zeros((len(inp.drinks), columns.n_all))
    cages = np.zeros(columns.n_all)
    for k in range(n_segments):
        hands = np.zeros(columns.n_all)
        hands[columns.bottles[k]] = 1.0
        rows.at_most("hand_up", hands, float(inp.max_bottles_per_feed[k]))
        rows.at_most("cages", cages + hands, float(limits.n_carried))
        held = held.copy()
        for b, drink in enumerate(inp.drinks):
            held[b, columns.bottles[k, b]] = drink.bottle_l
            held[b, columns.drunk[k, b]] = -1.0
        cages = np.zeros(columns.n_all)
        if limits.is_every_bottle_emptied:
            rows.equal(held, 0.0)
            continue
        rows.at_most("", -held, 0.0)
        left = held.copy()
        for b, drink in enumerate(inp.drinks):
            left[b, columns.carried[k, b]] = -drink.bottle_l
        rows.at_most("", left, 0.0)
        cages[columns.carried[k]] = 1.0


def _limit_strength(inp: BottlePlanInput, rows: Rows, columns: Columns) -> None:
    """Dilute a drink beyond the default strength by plain water in the same segment."""
    is_water = np.array([
        drink.sodium_mg_per_l <= c.PLAIN_WATER_SODIUM_MG_PER_L and drink.carbohydrate_g_per_l == 0.0
        for drink in inp.drinks
    ], dtype=bool)
    strengths = (
        ([drink.sodium_mg_per_l for drink in inp.drinks], c.MAX_DRINK_SODIUM_MG_PER_L),
        ([drink.carbohydrate_g_per_l for drink in inp.drinks], c.MAX_DRINK_CARBOHYDRATE_G_PER_L),
    )
    for per_l, most_per_l in strengths:
        beyond = np.array(per_l) / most_per_l - 1.0
        if not (beyond > 0.0).any():
            continue
        counted = np.where((beyond > 0.0) | is_water, beyond, 0.0)
        for k in range(len(columns.drunk)):
            row = np.zeros(columns.n_all)
            row[columns.drunk[k]] = counted
            rows.at_most("water_with_strong", row, 0.0)


def _upper_bounds(inp: BottlePlanInput, columns: Columns) -> Matrix:
    """Drinks stronger than opened are not offered."""
    limits = inp.limits
    most_g_per_l = min(limits.max_drink_carbohydrate_g_per_l, c.FLAGGED_DRINK_CARBOHYDRATE_G_PER_L)
    upper = np.full(columns.n_all, np.inf)
    upper[columns.foods] = limits.n_of_each_per_feed
    upper[columns.carried] = limits.n_carried
    for b, drink in enumerate(inp.drinks):
        is_offered = (
            drink.sodium_mg_per_l <= limits.max_drink_sodium_mg_per_l and drink.carbohydrate_g_per_l <= most_g_per_l
        )
        upper[columns.bottles[:, b]] = limits.n_of_each_per_feed if is_offered else 0
    return upper


def _penalise(inp: BottlePlanInput, programme: Programme, volume: Matrix) -> None:
    """Bind the slack variables that the costs count."""
    rows, columns, limits = programme.rows, programme.columns, inp.limits
    targets = ((programme.water[-1], columns.water_off, inp.target_water_l),
               (programme.sodium[-1], columns.sodium_off, inp.target_sodium_mg))
    for total, off, target in targets:
        row = total.copy()
        row[off] = (-1.0, 1.0)
        rows.equal(row, target)
    stage_h = float(inp.times_h[-1] - inp.times_h[0])
    short = -programme.carbohydrate[-1] / stage_h
    short[columns.carbohydrate_short] = -1.0
    rows.at_most("", short, -inp.carbohydrate_target_g_per_h)
    tolerated_frac = limits.tolerated_deficit_cool_frac if inp.is_cool else limits.tolerated_deficit_frac
    deficit = -programme.water / inp.mass_kg
    deficit[np.arange(len(deficit)), columns.deficit] = -1.0
    rows.at_most("", deficit, tolerated_frac - inp.sweat_q50_l[1:] / inp.mass_kg)
    rates = volume / np.diff(inp.times_h)[:, np.newaxis]
    rates[:, columns.peak] = -1.0
    rows.at_most("", rates, 0.0)


def _costs(inp: BottlePlanInput, columns: Columns) -> Matrix:
    """Penalty of one unit of each variable."""
    weights, cost = inp.weights, np.zeros(columns.n_all)
    cost[columns.bottles] = weights.bottle_u
    cost[columns.foods] = weights.food_u
    cost[columns.water_off] = weights.water_step_u / c.WATER_STEP_L
    cost[columns.sodium_off] = weights.sodium_step_u / c.SODIUM_STEP_MG
    if inp.is_sodium_needed:
        cost[columns.sodium_off[1]] *= 2.0
    cost[columns.carbohydrate_short] = weights.carbohydrate_step_u / c.CARBOHYDRATE_STEP_G_PER_H
    cost[columns.deficit] = weights.deficit_step_u / c.DEFICIT_STEP_FRAC
    cost[columns.plasma] = weights.plasma_step_u
    cost[columns.peak] = weights.peak_u
    return cost


def programme_of(inp: BottlePlanInput, *, is_cool_minimum_held: bool) -> Programme:
    """
    Write the plan as a programme.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.
    is_cool_minimum_held : bool
        Whether the least water of a cool stage is a limit.

    Returns
    -------
    Programme
        Rows, bounds and costs.

    References
    ----------
    .. [1] Source key ``balance_pin``, section 11; plasma rows from Source key ``kurtz_nguyen2003``, multiplied out.
    """
    columns = columns_of(inp)
    volume = _forms(inp, columns, [1.0] * len(inp.drinks), [0.0] * len(inp.foods))
    water = _forms(inp, columns, [d.water_frac for d in inp.drinks], [f.water_l for f in inp.foods])
    sodium = _forms(inp, columns, [d.sodium_mg_per_l for d in inp.drinks], [f.sodium_mg for f in inp.foods])
    carbohydrate = _forms(
        inp, columns, [d.carbohydrate_g_per_l for d in inp.drinks], [f.carbohydrate_g for f in inp.foods],
    )
    programme = Programme(
        columns, Rows(), _upper_bounds(inp, columns), _costs(inp, columns),
        water.cumsum(axis=0), sodium.cumsum(axis=0), carbohydrate.cumsum(axis=0),
    )
    _limit_rates(inp, programme.rows, volume, sodium, carbohydrate)
    _limit_stomach(inp, programme.rows, volume)
    _limit_water(inp, programme, is_cool_minimum_held=is_cool_minimum_held)
    _limit_carrying(inp, programme.rows, columns)
    _limit_strength(inp, programme.rows, columns)
    _penalise(inp, programme, volume)
    return programme
