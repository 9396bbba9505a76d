"""What the rest of a race will use, with its spread."""

from math import ceil, sqrt

from brinebook.engine.constants import mixing as c
from brinebook.engine.errors import physical, physical_positive

Triple = tuple[float, float, float]


def use_quantiles(
    planned_n: float, *, likely_n: tuple[float, ...] = (), spread_sd: tuple[float, ...] = (),
    correlation_frac: float = c.USE_CORRELATION_FRAC,
) -> Triple:
    """
    Use of one item over the stages ahead.

    Parameters
    ----------
    planned_n : float
        What the plans that exist take, a plain number in the item's own unit.
    likely_n : tuple of float
        Expected use of each rider-stage without a plan, same unit.
    spread_sd : tuple of float
        Its standard deviation, same unit.
    correlation_frac : float
        Correlation between any two of them, 0 to 1.

    Returns
    -------
    tuple of float
        The 0.1, 0.5 and 0.9 quantiles, none below what is planned.

    Notes
    -----
    The sum of equally correlated normals has variance (1 - r) sum(sd^2) + r sum(sd)^2.

    References
    ----------
    .. [1] Correlation, Source key ``own_defaults``.

    Examples
    --------
    >>> use_quantiles(100.0)
    (100.0, 100.0, 100.0)
    """
    physical("planned_n", planned_n, low=0.0)
    r = physical("correlation_frac", correlation_frac, low=0.0, high=1.0).item()
    middle = planned_n + sum(likely_n)
    sd = sqrt((1.0 - r) * sum(one * one for one in spread_sd) + r * sum(spread_sd) ** 2)
    return max(planned_n, middle - c.USE_Z * sd), middle, middle + c.USE_Z * sd


def packs_to_buy_n(needed_n: float, *, on_hand_n: float, pack_n: float) -> int:
    """
    Whole packs that close the gap.

    Parameters
    ----------
    needed_n : float
        Use to be covered, a plain number in the item's own unit.
    on_hand_n : float
        What is there, same unit.
    pack_n : float
        What a pack holds, same unit.

    Returns
    -------
    int
        Packs, never fewer than the gap asks for.

    References
    ----------
    .. [1] Arithmetic, Source key ``own_defaults``.

    Examples
    --------
    >>> packs_to_buy_n(2600.0, on_hand_n=500.0, pack_n=1000.0)
    3
    """
    gap = needed_n - on_hand_n
    return max(0, ceil(gap / physical_positive("pack", pack_n).item() - c.SAME_VOLUME_L))


def days_covered_n(uses_n: tuple[float, ...], *, on_hand_n: float) -> int:
    """
    Race days for which what is there lasts.

    Parameters
    ----------
    uses_n : tuple of float
        Use of each day ahead, in order, a plain number in the item's own unit.
    on_hand_n : float
        What is there, same unit.

    Returns
    -------
    int
        Whole days before it runs short.

    References
    ----------
    .. [1] Arithmetic, Source key ``own_defaults``.

    Examples
    --------
    >>> days_covered_n((100.0, 100.0, 100.0), on_hand_n=250.0)
    2
    """
    total, n_days = 0.0, 0
    for use in uses_n:
        total += use
        if total > on_hand_n + c.SAME_VOLUME_L:
            return n_days
        n_days += 1
    return n_days
