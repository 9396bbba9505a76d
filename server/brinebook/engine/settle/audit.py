"""How good the forecasts were, once the stages are settled."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from brinebook.engine.errors import UnphysicalInput, physical


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
