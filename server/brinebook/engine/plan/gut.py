"""What the gut lets through: caps on drinking and on carbohydrate, and how they fall after trouble."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.terms import PlanLimits


def carbohydrate_cap_g_per_h(*, is_mixed_sugar: bool, is_gut_trained: bool) -> float:
    """
    Most carbohydrate per hour that a plan may give.

    Parameters
    ----------
    is_mixed_sugar : bool
        Glucose with fructose rather than one source.
    is_gut_trained : bool
        Logged practice at 90 g/h or more, and the rider's consent.

    Returns
    -------
    float
        Cap [g/h].

    References
    ----------
    .. [1] Source key ``thomas2016``; trained riders, Source key ``podlogar2022``.

    Examples
    --------
    >>> carbohydrate_cap_g_per_h(is_mixed_sugar=True, is_gut_trained=False)
    90.0
    """
    if not is_mixed_sugar:
        return c.SINGLE_SOURCE_CARBOHYDRATE_G_PER_H
    return c.TRAINED_CARBOHYDRATE_G_PER_H if is_gut_trained else c.MAX_CARBOHYDRATE_G_PER_H


def limits_after_gut_trouble(limits: PlanLimits) -> PlanLimits:
    """
    Limits for the rest of a day on which the gut gave trouble.

    Parameters
    ----------
    limits : PlanLimits
        Limits of that rider before.

    Returns
    -------
    PlanLimits
        Rates cut by 30 %, carbohydrate at most 60 g/h.

    References
    ----------
    .. [1] Source key ``own_defaults``.

    Examples
    --------
    >>> limits_after_gut_trouble(PlanLimits()).max_carbohydrate_g_per_h
    60.0
    """
    kept = 1.0 - c.GUT_TROUBLE_CUT_FRAC
    return replace(
        limits,
        max_intake_l_per_h=limits.max_intake_l_per_h * kept,
        max_any_hour_l_per_h=limits.max_any_hour_l_per_h * kept,
        max_carbohydrate_g_per_h=min(
            limits.max_carbohydrate_g_per_h * kept, c.SINGLE_SOURCE_CARBOHYDRATE_G_PER_H,
        ),
        max_single_source_g_per_h=limits.max_single_source_g_per_h * kept,
    )


def stomach_l(times_h: NDArray[np.float64], *, drunk_l: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Stomach content when drinking is even within each segment and emptying is of first order.

    Parameters
    ----------
    times_h : array, shape (k + 1,)
        Start, feeds and finish [h].
    drunk_l : array, shape (k,)
        Drink swallowed in each segment [L].

    Returns
    -------
    array, shape (k,)
        Content at the end of each segment [L].

    References
    ----------
    .. [1] Source key ``lambert2008``.

    Examples
    --------
    >>> float(round(stomach_l(np.array([0.0, 4.0]), drunk_l=np.array([3.6]))[0], 2))
    0.6
    """
    content, contents = 0.0, []
    for emptied, swallowed_l in zip(c.EMPTYING_PER_H * np.diff(times_h), drunk_l, strict=True):
        content = content * np.exp(-emptied) + swallowed_l * -np.expm1(-emptied) / emptied
        contents.append(content)
    return np.array(contents)
