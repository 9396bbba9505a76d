"""Hands, cages and pockets, hand-ups that may fail, strong drinks and what there is: rows on whole bottles."""

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.layout import Matrix, Programme
from brinebook.engine.plan.terms import BottlePlanInput, DrinkOption


def limit_carrying(inp: BottlePlanInput, programme: Programme) -> None:
    """
    Add the rows on what can be handed up, carried and drunk from, and the bounds on what is on offer.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.
    programme : Programme
        Gets the rows and the upper bounds.

    Returns
    -------
    None
        Rows and bounds stand in the programme.

    References
    ----------
    .. [1] Source key ``balance_pin``, sections 10 and 11.
    """
    _limit_offer(inp, programme)
    _limit_pockets(inp, programme)
    _limit_cages(inp, programme)
    _limit_odds(inp, programme)
    _limit_strength(inp, programme)


def is_strong(drink: DrinkOption) -> bool:
    """
    Tell a drink that is planned only with water beside it.

    Parameters
    ----------
    drink : DrinkOption
        Its strength counts.

    Returns
    -------
    bool
        Above the default strength of sodium or of carbohydrate.

    References
    ----------
    .. [1] Source key ``merritt_sse262``, ``mosler2020``.
    """
    return (drink.sodium_mg_per_l > c.MAX_DRINK_SODIUM_MG_PER_L
            or drink.carbohydrate_g_per_l > c.MAX_DRINK_CARBOHYDRATE_G_PER_L)


def is_plain_water(drink: DrinkOption) -> bool:
    """
    Tell a drink that dilutes a strong one.

    Parameters
    ----------
    drink : DrinkOption
        Its strength counts.

    Returns
    -------
    bool
        No carbohydrate, and sodium as in mineral water at most.

    References
    ----------
    .. [1] Source key ``own_defaults``.
    """
    return drink.sodium_mg_per_l <= c.PLAIN_WATER_SODIUM_MG_PER_L and drink.carbohydrate_g_per_l == 0.0


def is_offered(inp: BottlePlanInput, drink: DrinkOption) -> bool:
    """
    Tell whether a drink may be planned at all.

    Parameters
    ----------
    inp : BottlePlanInput
        Its limits count.
    drink : DrinkOption
        One drink of the offer.

    Returns
    -------
    bool
        Allowed to the rider and no stronger than opened for him.
    """
    limits = inp.limits
    most_g_per_l = min(limits.max_drink_carbohydrate_g_per_l, c.FLAGGED_DRINK_CARBOHYDRATE_G_PER_L)
    is_weak_enough = drink.sodium_mg_per_l <= limits.max_drink_sodium_mg_per_l
    return drink.is_allowed and is_weak_enough and drink.carbohydrate_g_per_l <= most_g_per_l


def _limit_offer(inp: BottlePlanInput, programme: Programme) -> None:
    """Nothing that is not offered, no more of anything than there is."""
    columns, upper, limits = programme.columns, programme.upper, inp.limits
    for b, drink in enumerate(inp.drinks):
        upper[columns.bottles[:, b]] = limits.n_of_each_per_feed if is_offered(inp, drink) else 0
        upper[columns.drunk[:, b]] = np.inf if is_offered(inp, drink) else 0.0
        upper[columns.carried[:, b]] = limits.n_carried if is_offered(inp, drink) else 0
    for j, food in enumerate(inp.foods):
        upper[columns.foods[:, j]] = limits.n_of_each_per_feed if food.is_allowed else 0
    for options, places in ((inp.drinks, columns.bottles), (inp.foods, columns.foods)):
        for most_n, of_kind in zip([option.most_n for option in options], places.T, strict=True):
            if most_n is not None:
                row = np.zeros(columns.n_all)
                row[of_kind] = 1.0
                programme.rows.at_most("stock", row, float(most_n))


def _added_up(forms: Matrix, n_segments: int) -> Matrix:
    """Add the forms of each segment up; they come segment by segment."""
    per_segment = forms.reshape(n_segments, len(forms) // max(n_segments, 1), forms.shape[1])
    added: Matrix = per_segment.sum(axis=1)
    return added


def _limit_pockets(inp: BottlePlanInput, programme: Programme) -> None:
    """Food is eaten after it is handed up, and fits pockets and musette."""
    columns, rows = programme.columns, programme.rows
    handed = programme.so_far(columns.foods.ravel())
    kept = handed - programme.so_far(columns.eaten.ravel())
    n_segments, n_foods = columns.foods.shape
    for j in range(n_foods):
        programme.run(columns.pocketed[:, j], kept[j::n_foods])
    full = _added_up(handed, n_segments)
    full[1:] += _added_up(programme.so_far(columns.pocketed[:-1].ravel()), n_segments - 1)
    rows.at_most("pockets", full, float(inp.limits.n_foods_per_feed))
    if inp.limits.is_every_bottle_emptied:
        programme.upper[columns.pocketed] = 0.0


def _limit_cages(inp: BottlePlanInput, programme: Programme) -> None:
    """Bottles are drunk after they are handed up, and fit hands and cages."""
    rows, columns, limits = programme.rows, programme.columns, inp.limits
    n_segments, n_drinks = columns.bottles.shape
    handed, drunk = programme.so_far(columns.bottles.ravel()), programme.so_far(columns.drunk.ravel())
    for b, drink in enumerate(inp.drinks):
        left = programme.run(columns.held[:, b], drink.bottle_l * handed[b::n_drinks] - drunk[b::n_drinks])
        if not limits.is_every_bottle_emptied:
            rows.at_most("", left[:-1] - drink.bottle_l * programme.so_far(columns.carried[:, b]), 0.0)
    hands = _added_up(handed, n_segments)
    rows.at_most("hand_up", hands, inp.max_bottles_per_feed.astype(np.float64))
    full = hands.copy()
    if limits.is_every_bottle_emptied:
        programme.upper[columns.held] = 0.0
    else:
        full[1:] += _added_up(programme.so_far(columns.carried.ravel()), n_segments - 1)
    rows.at_most("cages", full, float(limits.n_carried))


def windows_of(odds_frac: NDArray[np.float64]) -> list[tuple[int, int]]:
    """
    Find the shortest runs of feeds of which at least one very likely succeeds.

    Parameters
    ----------
    odds_frac : array, shape (k,)
        Chance of success at each feed [frac].

    Returns
    -------
    list of tuple of int
        First and last feed of each run of two or more; a run that reaches the finish without getting there is one too.

    References
    ----------
    .. [1] Source key ``own_defaults``: four in five.

    Examples
    --------
    >>> windows_of(np.array([1.0, 0.6, 0.6, 0.9]))
    [(1, 2), (2, 3)]
    """
    runs: list[tuple[int, int]] = []
    for first in range(len(odds_frac)):
        missed = 1.0
        for last in range(first, len(odds_frac)):
            missed *= 1.0 - float(odds_frac[last])
            if 1.0 - missed >= c.SURE_ENOUGH_FRAC or last == len(odds_frac) - 1:
                if last > first and not (runs and runs[-1][1] == last):
                    runs.append((first, last))
                break
    return runs


def _limit_odds(inp: BottlePlanInput, programme: Programme) -> None:
    """
    Let one success carry what a run of unsure feeds was to bring.

    What is planned for feeds none of which is likely enough alone fits the cages at once.
    """
    if inp.hand_up_odds_frac is None:
        return
    columns = programme.columns
    for first, last in windows_of(np.asarray(inp.hand_up_odds_frac, dtype=np.float64)):
        row = np.zeros(columns.n_all)
        row[columns.bottles[first : last + 1]] = 1.0
        programme.rows.at_most("hand_up_odds", row, float(inp.limits.n_carried))


def _limit_strength(inp: BottlePlanInput, programme: Programme) -> None:
    """
    Dilute a drink beyond the default strength by plain water on the same stretch.

    Where that water was missed, the strong bottle waits: the plan says so to the rider.
    """
    columns = programme.columns
    is_water = np.array([is_plain_water(drink) for drink in inp.drinks], dtype=bool)
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
            programme.rows.at_most("water_with_strong", row, 0.0)
