"""What a plan is ranked by: slack variables for every soft goal, and what each costs."""

import numpy as np

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.layout import Programme, flavours_of
from brinebook.engine.plan.limits_water import plasma_by_sweat, plasma_forms
from brinebook.engine.plan.terms import BottlePlanInput


def add_goals(inp: BottlePlanInput, programme: Programme) -> None:
    """
    Bind the slack variables that the costs count.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.
    programme : Programme
        Gets the rows and the costs.

    Returns
    -------
    None
        Rows and costs stand in the programme.

    References
    ----------
    .. [1] Source key ``balance_pin``, section 11.
    """
    _aim(inp, programme)
    _spare_the_rider(inp, programme)
    _hedge(inp, programme)
    _vary(inp, programme)
    _cost(inp, programme)


def _aim(inp: BottlePlanInput, programme: Programme) -> None:
    """Water and sodium off their targets, carbohydrate below its own."""
    rows, columns = programme.rows, programme.columns
    targets = ((columns.water_so_far, columns.water_off, inp.target_water_l),
               (columns.sodium_so_far, columns.sodium_off, inp.target_sodium_mg))
    for so_far, off, target in targets:
        row = programme.so_far(so_far[-1:])[0]
        row[off] = (-1.0, 1.0)
        rows.equal(row, target)
    short = -programme.carbohydrate.sum(axis=0) / float(inp.times_h[-1] - inp.times_h[0])
    short[columns.carbohydrate_short] = -1.0
    rows.at_most("", short, -inp.carbohydrate_target_g_per_h)


def _spare_the_rider(inp: BottlePlanInput, programme: Programme) -> None:
    """Deficit and plasma sodium at every feed for the median loss, and the busiest segment."""
    rows, columns, limits = programme.rows, programme.columns, inp.limits
    water, sodium = programme.so_far(columns.water_so_far), programme.so_far(columns.sodium_so_far)
    each, weights = np.arange(len(water)), inp.weights
    tolerated_frac = limits.tolerated_deficit_cool_frac if inp.is_cool else limits.tolerated_deficit_frac
    if weights.deficit_step_u > 0.0:
        deficit = -water / inp.mass_kg
        deficit[each, columns.deficit] = -1.0
        owed_frac = (inp.sweat_q50_l[1:] + inp.start_deficit_l) / inp.mass_kg
        rows.at_most("", deficit, tolerated_frac - owed_frac)
    if weights.plasma_step_u > 0.0:
        ceiling = limits.plasma_ceiling_mmol_per_l
        above = plasma_forms(inp, water, sodium, ceiling)
        above[each, columns.plasma] = -1.0
        rows.at_most("", above, -plasma_by_sweat(
            inp, inp.sweat_q50_l[1:], bound_mmol_per_l=ceiling, sodium_mmol_per_l=inp.sodium_mmol_per_l))
    if weights.peak_u > 0.0:
        rates = programme.volume / np.diff(inp.times_h)[:, np.newaxis]
        rates[:, columns.peak] = -1.0
        rows.at_most("", rates, 0.0)


def _hedge(inp: BottlePlanInput, programme: Programme) -> None:
    """Look at both ends of the forecast: a deficit worth a warning at q90, too great a share replaced at q10."""
    if inp.weights.risk_step_u <= 0.0:
        return
    water = programme.so_far(programme.columns.water_so_far[-1:])[0]
    dry, wet = -water / inp.mass_kg, water.copy()
    dry[programme.columns.risk[0]] = wet[programme.columns.risk[1]] = -1.0
    owed_frac = (float(inp.sweat_q90_l[-1]) + inp.start_deficit_l) / inp.mass_kg
    programme.rows.at_most("", dry, c.WARNING_DEFICIT_FRAC - owed_frac)
    programme.rows.at_most("", wet, c.MAX_REPLACED_FRAC * float(inp.sweat_q10_l[-1]))


def _vary(inp: BottlePlanInput, programme: Programme) -> None:
    """
    Count the bottles of one flavour beyond three in a row.

    With m bottles of anything else to part them, at most 3 (m + 1) of one flavour can stand without a longer run.
    """
    if inp.weights.taste_run_u <= 0.0:
        return
    columns, n_feeds = programme.columns, len(inp.times_h) - 1
    for flavour, taste in zip(flavours_of(inp), columns.taste, strict=True):
        counted = np.array([1.0 if d.flavour == flavour else -c.FLAVOUR_RUN_N for d in inp.drinks])
        for first in range(n_feeds):
            for last in range(first + 1, min(first + int(c.FLAVOUR_RUN_N) + 1, n_feeds)):
                row = np.zeros(columns.n_all)
                row[columns.bottles[first : last + 1]] = counted
                row[taste] = -1.0
                programme.rows.at_most("", row, c.FLAVOUR_RUN_N)


def _cost(inp: BottlePlanInput, programme: Programme) -> None:
    """Penalty of one unit of each variable."""
    weights, columns, cost = inp.weights, programme.columns, programme.cost
    cost[columns.bottles] = [weights.bottle_u + drink.taste_u + drink.stock_u for drink in inp.drinks]
    cost[columns.foods] = [weights.food_u + food.taste_u + food.stock_u for food in inp.foods]
    cost[columns.water_off] = weights.water_step_u / c.WATER_STEP_L
    cost[columns.sodium_off] = weights.sodium_step_u / c.SODIUM_STEP_MG
    if inp.is_sodium_needed:
        cost[columns.sodium_off[1]] *= 2.0
    cost[columns.carbohydrate_short] = weights.carbohydrate_step_u / c.CARBOHYDRATE_STEP_G_PER_H
    cost[columns.deficit] = weights.deficit_step_u / c.DEFICIT_STEP_FRAC
    cost[columns.plasma] = weights.plasma_step_u
    cost[columns.peak] = weights.peak_u
    cost[columns.risk] = (weights.risk_step_u / c.DEFICIT_STEP_FRAC, weights.risk_step_u / c.WATER_STEP_L)
    cost[columns.taste] = weights.taste_run_u
