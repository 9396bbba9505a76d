"""How good the forecasts were, once the stages are settled."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from brinebook.engine.errors import UnphysicalInput, physical
from brinebook.engine.units import FloatArray


@dataclass(frozen=True, slots=True)
class Audit:
    """Bias (predicted less settled), error and how often the settled litres lay inside the 80 % band."""

    bias_l: float
    mean_absolute_error_l: float
    coverage_80_frac: float


def forecast_audit(
    predicted_q10_l: ArrayLike, predicted_q50_l: ArrayLike, predicted_q90_l: ArrayLike, settled_l: ArrayLike
) -> Audit:
    """
    Compare forecasts with settled stages.

    Parameters
    ----------
    predicted_q10_l : array, shape (n,)
        Predicted sweat, 10 % quantile [L].
    predicted_q50_l : array, shape (n,)
        Predicted sweat, median [L].
    predicted_q90_l : array, shape (n,)
        Predicted sweat, 90 % quantile [L].
    settled_l : array, shape (n,)
        Settled sweat [L].

    Returns
    -------
    Audit
        A well-spread forecast covers 0.8 of the stages.

    Raises
    ------
    UnphysicalInput
        If there is no stage, an input is not finite or the arrays differ in length.

    References
    ----------
    .. [1] Arithmetic of errors.

    Examples
    --------
    >>> forecast_audit([3.0, 3.0], [4.0, 4.0], [5.0, 5.0], [4.5, 5.5])
    Audit(bias_l=-1.0, mean_absolute_error_l=1.0, coverage_80_frac=0.5)
    """
    low, middle, high, settled = (
        np.atleast_1d(physical(name, values))
        for name, values in (
            ("predicted_q10_l", predicted_q10_l),
            ("predicted_q50_l", predicted_q50_l),
            ("predicted_q90_l", predicted_q90_l),
            ("settled_l", settled_l),
        )
    )
    if settled.size == 0 or {low.shape, middle.shape, high.shape} != {settled.shape}:
        raise UnphysicalInput("settled_l", float(settled.size))
    error_l = middle - settled
    is_inside = (settled >= low) & (settled <= high)
    return Audit(float(error_l.mean()), float(np.abs(error_l).mean()), float(is_inside.mean()))


@dataclass(frozen=True, slots=True)
class Coverage:
    """How often settled litres lay inside three intervals, and where in their forecasts they lay on average."""

    coverage_50_frac: float
    coverage_80_frac: float
    coverage_95_frac: float
    mean_rank_frac: float


def forecast_coverage(draws_l: ArrayLike, *, settled_l: ArrayLike) -> Coverage:
    """
    Coverage of the 50, 80 and 95 % intervals of settled stages, for one rider or a team.

    Parameters
    ----------
    draws_l : array, shape (n, m)
        Equally likely totals of each of n stages, such as the forecast's twenty [L].
    settled_l : array, shape (n,)
        Settled sweat [L].

    Returns
    -------
    Coverage
        A well-spread forecast covers its names, and the mean rank is a half; below it the forecasts are too high.

    Raises
    ------
    UnphysicalInput
        If there is no stage, an input is not finite or the shapes do not fit.

    Notes
    -----
    Each draw stands for the middle of its share, so twenty of them reach from 2.5 to 97.5 %.

    References
    ----------
    .. [1] Arithmetic of ranks.

    Examples
    --------
    >>> found = forecast_coverage([np.linspace(2.0, 4.0, 20)] * 2, settled_l=[3.1, 3.7])
    >>> found.coverage_50_frac, found.coverage_80_frac
    (0.5, 1.0)
    """
    draws = physical("draws_l", draws_l)
    settled = np.atleast_1d(physical("settled_l", settled_l))
    if settled.size == 0 or draws.ndim != 2 or draws.shape[0] != settled.size:  # noqa: PLR2004 - stages by draws
        raise UnphysicalInput("settled_l", float(settled.size))
    half, four_fifths, most = (_covered_frac(draws, settled, share) for share in (0.50, 0.80, 0.95))
    rank = (draws < settled[:, None]).mean() + 0.5 * (draws == settled[:, None]).mean()
    return Coverage(half, four_fifths, most, float(rank))


def forecast_rank_frac(draws_l: ArrayLike, *, settled_l: float) -> float:
    """
    Where a settled loss lay in its forecast.

    Parameters
    ----------
    draws_l : array, shape (n_draws,)
        Equally likely losses as forecast [L].
    settled_l : float
        The loss by the scales [L].

    Returns
    -------
    float
        Share of the draws below it [frac]; a draw that equals it counts half.

    Raises
    ------
    UnphysicalInput
        If there is no draw, or a number is not finite.

    References
    ----------
    .. [1] Arithmetic of ranks; uniform for an honest forecast.

    Examples
    --------
    >>> forecast_rank_frac([2.0, 3.0, 4.0, 5.0], settled_l=4.5)
    0.75
    """
    draws = np.atleast_1d(physical("draws_l", draws_l))
    settled = float(physical("settled_l", settled_l))
    if draws.size == 0:
        raise UnphysicalInput("n_draws", 0.0)
    return float((draws < settled).mean() + 0.5 * (draws == settled).mean())


def coverage_of_ranks(ranks_frac: ArrayLike) -> Coverage:
    """
    Coverage of the 50, 80 and 95 % intervals from where settled losses lay in their forecasts.

    Parameters
    ----------
    ranks_frac : array, shape (n_stages,)
        One rank per settled stage, of one rider or of a team [frac].

    Returns
    -------
    Coverage
        Shares inside the central intervals; the mean rank is one half for an unbiased forecast.

    Raises
    ------
    UnphysicalInput
        If there is no rank, or one is not 0-1.

    References
    ----------
    .. [1] Arithmetic of ranks.

    Examples
    --------
    >>> coverage_of_ranks([0.2, 0.5, 0.98]).coverage_80_frac
    0.6666666666666666
    """
    ranks = np.atleast_1d(physical("ranks_frac", ranks_frac, low=0.0, high=1.0))
    if ranks.size == 0:
        raise UnphysicalInput("n_ranks", 0.0)
    off = np.abs(ranks - 0.5)
    half, four_fifths, most = (float((off <= share / 2.0).mean()) for share in (0.50, 0.80, 0.95))
    return Coverage(half, four_fifths, most, float(ranks.mean()))


def _covered_frac(draws_l: FloatArray, settled_l: FloatArray, share_frac: float) -> float:
    low, high = np.quantile(draws_l, [(1.0 - share_frac) / 2.0, (1.0 + share_frac) / 2.0], axis=1, method="hazen")
    return float(((settled_l >= low) & (settled_l <= high)).mean())
