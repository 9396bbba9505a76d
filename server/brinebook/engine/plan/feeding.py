"""How likely a hand-up succeeds, by who hands up and what the road does there."""

from typing import Literal

from brinebook.engine.constants import feeding as c

FeedKind = Literal["start", "zone", "car"]


def hand_up_odds_frac(kind: FeedKind, *, km: float, finish_km: float, slope_frac: float) -> float:
    """
    Give the chance that a hand-up succeeds.

    Parameters
    ----------
    kind : {"start", "zone", "car"}
        Who hands up.
    km : float
        Place on the road [km].
    finish_km : float
        Length of the stage [km].
    slope_frac : float
        Gradient there [frac].

    Returns
    -------
    float
        1 at the start [frac].

    References
    ----------
    .. [1] Source key ``own_defaults``.

    Examples
    --------
    >>> hand_up_odds_frac("car", km=100.0, finish_km=180.0, slope_frac=0.01)
    0.85
    """
    if kind == "start":
        return 1.0
    if kind == "zone":
        return c.ROADSIDE_ODDS_FRAC
    is_hard = slope_frac > c.CLIMB_FRAC or km > finish_km - c.FINALE_KM
    return c.CAR_HARD_ODDS_FRAC if is_hard else c.CAR_ODDS_FRAC
