"""What would free a plan from the limits that hold it back: each remedy tried, and how much it would help."""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.limits_carrying import is_offered
from brinebook.engine.plan.programme import programme_of
from brinebook.engine.plan.search_linear import shadow_of
from brinebook.engine.plan.terms import BottlePlanInput, Freed, PlanLimits
from brinebook.engine.units import FloatArray

MOST_REMEDIES = 3
Remedy = tuple[str, int | None, BottlePlanInput]
"""Code, the segment it is about, and the plan's input with it in place."""


def _limits(inp: BottlePlanInput, **changed: float) -> BottlePlanInput:
    limits: PlanLimits = replace(inp.limits, **changed)  # type: ignore[arg-type]  # numbers of limits are numbers
    return replace(inp, limits=limits)


def _longest(inp: BottlePlanInput) -> int:
    return int(np.diff(inp.times_h).argmax())


def _feed_point(inp: BottlePlanInput) -> Iterator[Remedy]:
    """Put one more feed half way along the longest stretch without."""
    k = _longest(inp)
    middle_h = float(inp.times_h[k : k + 2].mean())

    def split(sweat_l: FloatArray) -> FloatArray:
        return np.insert(sweat_l, k + 1, np.interp(middle_h, inp.times_h, sweat_l))

    odds_frac = inp.hand_up_odds_frac
    yield "feed_point", k, replace(
        inp, times_h=np.insert(inp.times_h, k + 1, middle_h), sweat_q10_l=split(inp.sweat_q10_l),
        sweat_q50_l=split(inp.sweat_q50_l), sweat_q90_l=split(inp.sweat_q90_l),
        max_bottles_per_feed=np.insert(inp.max_bottles_per_feed, k + 1, 2),
        hand_up_odds_frac=None if odds_frac is None else np.insert(odds_frac, k + 1, 1.0),
    )


def _second_bottle(inp: BottlePlanInput) -> Iterator[Remedy]:
    """Hand up one more bottle before the longest stretch."""
    k = _longest(inp)
    hands = inp.max_bottles_per_feed.copy()
    hands[k] += 1
    yield "second_bottle", k, replace(inp, max_bottles_per_feed=hands)


def _pocket_bottle(inp: BottlePlanInput) -> Iterator[Remedy]:
    yield "pocket_bottle", None, _limits(inp, n_carried=inp.limits.n_carried + 1)


def _sure_feed(inp: BottlePlanInput) -> Iterator[Remedy]:
    """Make the least likely hand-up sure: from the car, or by a second pair of hands."""
    odds_frac = inp.hand_up_odds_frac
    if odds_frac is None or not len(odds_frac):
        return
    k = int(np.argmin(odds_frac))
    sure = np.array(odds_frac, dtype=np.float64)
    sure[k] = 1.0
    yield "sure_feed", k, replace(inp, hand_up_odds_frac=sure)


def _gut_test(inp: BottlePlanInput) -> Iterator[Remedy]:
    """Let a rider held to his own tested intake, or cut after a bad gut, take the default."""
    default, limits = PlanLimits(), inp.limits
    if limits.max_intake_l_per_h < default.max_intake_l_per_h:
        yield "gut_test", None, _limits(inp, max_intake_l_per_h=default.max_intake_l_per_h,
                                        max_any_hour_l_per_h=default.max_any_hour_l_per_h)


def _physician_sodium(inp: BottlePlanInput) -> Iterator[Remedy]:
    if inp.limits.max_sodium_mg_per_h < c.RELEASED_SODIUM_MG_PER_H:
        yield "physician_sodium", None, _limits(inp, max_sodium_mg_per_h=c.RELEASED_SODIUM_MG_PER_H)


def _open_drink(inp: BottlePlanInput) -> Iterator[Remedy]:
    closed = [drink.sodium_mg_per_l for drink in inp.drinks if drink.is_allowed and not is_offered(inp, drink)]
    if closed and max(closed) > inp.limits.max_drink_sodium_mg_per_l:
        yield "open_drink", None, _limits(inp, max_drink_sodium_mg_per_l=max(closed))


def _stronger_drink(inp: BottlePlanInput) -> Iterator[Remedy]:
    """Mix the saltiest drink on offer as salty as a plan may have it."""
    offered = [b for b, drink in enumerate(inp.drinks) if is_offered(inp, drink)]
    if not offered:
        return
    saltiest = max(offered, key=lambda b: inp.drinks[b].sodium_mg_per_l)
    if inp.drinks[saltiest].sodium_mg_per_l < c.MAX_DRINK_SODIUM_MG_PER_L:
        stronger = replace(inp.drinks[saltiest], sodium_mg_per_l=c.MAX_DRINK_SODIUM_MG_PER_L)
        yield "stronger_drink", None, replace(
            inp, drinks=(*inp.drinks[:saltiest], stronger, *inp.drinks[saltiest + 1:]))


def _gut_training(inp: BottlePlanInput) -> Iterator[Remedy]:
    if inp.limits.max_carbohydrate_g_per_h == c.MAX_CARBOHYDRATE_G_PER_H:
        yield "gut_training", None, _limits(inp, max_carbohydrate_g_per_h=c.TRAINED_CARBOHYDRATE_G_PER_H)


def _mixed_sugar(inp: BottlePlanInput) -> Iterator[Remedy]:
    drinks = tuple(replace(drink, sugar="mixed") for drink in inp.drinks)
    yield "mixed_sugar", None, replace(inp, drinks=drinks, foods=tuple(replace(f, sugar="mixed") for f in inp.foods))


def _weigh_more(inp: BottlePlanInput) -> Iterator[Remedy]:
    """Halve the width of the forecast below its middle, as more weighed stages would."""
    middle = (inp.sweat_q10_l + inp.sweat_q50_l) / 2.0
    yield "weigh_more", None, replace(inp, sweat_q10_l=middle, road_h=None, road_q10_l=None)


def _sweat_test(inp: BottlePlanInput) -> Iterator[Remedy]:
    """Test the sweat again, and reckon no more with sweat saltier than found."""
    if inp.sodium_high_mmol_per_l is not None:
        yield "sweat_test", None, replace(inp, sodium_high_mmol_per_l=None)


def _restock(inp: BottlePlanInput) -> Iterator[Remedy]:
    drinks = tuple(replace(drink, most_n=None) for drink in inp.drinks)
    yield "restock", None, replace(inp, drinks=drinks, foods=tuple(replace(f, most_n=None) for f in inp.foods))


REMEDIES: dict[str, tuple[Callable[[BottlePlanInput], Iterator[Remedy]], ...]] = {
    "hand_up": (_feed_point, _second_bottle),
    "cages": (_feed_point, _pocket_bottle),
    "hand_up_odds": (_sure_feed, _feed_point),
    "mean_rate": (_gut_test,),
    "any_hour": (_gut_test,),
    "water_q10": (_weigh_more,),
    "plasma_floor": (_open_drink, _stronger_drink, _sweat_test, _sure_feed),
    "plasma_tail": (_weigh_more, _stronger_drink, _sweat_test),
    "sodium_per_h": (_physician_sodium,),
    "water_with_strong": (_second_bottle,),
    "short_of_sodium": (_open_drink, _stronger_drink),
    "carbohydrate": (_gut_training, _mixed_sugar),
    "stock": (_restock,),
}
"""A limit that is not here (losses of sodium, the stomach) nothing frees."""


def freed(inp: BottlePlanInput, binding: tuple[str, ...], *, bound_u: float) -> tuple[Freed, ...]:
    """
    Try each remedy for the limits that bind and keep those that help.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.
    binding : tuple of str
        Codes of the limits that hold the plan back.
    bound_u : float
        Penalty of the plan as it is, when bottles need not be whole.

    Returns
    -------
    tuple of Freed
        At most three, the most helpful first; each saves at least what a bottle costs.

    Notes
    -----
    A remedy is measured on whole plans without whole bottles: both bounds are exact for that problem.

    References
    ----------
    .. [1] Linear relaxation, Source key ``own_defaults``.
    """
    found: dict[str, Freed] = {}
    for limit in binding:
        for make in REMEDIES.get(limit, ()):
            for code, segment, changed in make(inp):
                if code not in found:
                    gain_u = bound_u - shadow_of(programme_of(changed, is_cool_minimum_held=False)).bound_u
                    found[code] = Freed(limit=limit, code=code, gain_u=gain_u, segment=segment)
    helpful = [one for one in found.values() if one.gain_u > c.LEAST_GAIN_U]
    return tuple(sorted(helpful, key=lambda one: (-one.gain_u, one.code))[:MOST_REMEDIES])
