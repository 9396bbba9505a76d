"""Ranges a model was made for: leaving one is said, never raised."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Violation:
    """One quantity outside the range of one model; ``value`` is the worst one met."""

    model: str
    quantity: str
    value: float
    low: float
    high: float


def range_violations(model: str, quantity: str, values: ArrayLike, *, low: float, high: float) -> tuple[Violation, ...]:
    """Return the worst value beyond ``low`` or ``high`` as a violation, or nothing."""
    numbers = np.atleast_1d(np.asarray(values, dtype=np.float64))
    beyond = np.maximum(low - numbers, numbers - high)
    if beyond.size == 0 or beyond.max() <= 0.0:
        return ()
    return (Violation(model, quantity, float(numbers[int(beyond.argmax())]), low, high),)
