"""What the engine refuses: only the impossible raises; the unlikely is a ``Violation``."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


class EngineError(ValueError):
    """Base of all engine errors."""


@dataclass(eq=False)
class UnphysicalInput(EngineError):
    """An input no body or road can have, with the places where it stands."""

    name: str
    value: float
    indices: tuple[int, ...] = ()

    def __str__(self) -> str:
        return f"{self.name} = {self.value}" + (f" at {self.indices}" if self.indices else "")


@dataclass(eq=False)
class NoSolution(EngineError):
    """An iteration or programme that ended without an answer."""

    reason: str
    last_residual: float

    def __str__(self) -> str:
        return f"{self.reason} (last residual {self.last_residual})"


def physical(name: str, value: ArrayLike, *, low: float = -np.inf, high: float = np.inf) -> NDArray[np.float64]:
    """Return ``value`` as floats; raise ``UnphysicalInput`` where it is nan, infinite, below low or above high."""
    numbers = np.asarray(value, dtype=np.float64)
    if numbers.ndim == 0:
        # A single number takes the short way: most checks are of one, and an array's costs ten times as much.
        number = float(numbers)
        if not (math.isfinite(number) and low <= number <= high):
            raise UnphysicalInput(name, number)
        return numbers
    is_wrong = ~(np.isfinite(numbers) & (numbers >= low) & (numbers <= high))
    if is_wrong.any():
        raise UnphysicalInput(name, float(numbers[is_wrong][0]), tuple(int(i) for i in np.flatnonzero(is_wrong)))
    return numbers


def physical_positive(name: str, value: ArrayLike) -> NDArray[np.float64]:
    """Return ``value`` as floats; raise ``UnphysicalInput`` where it is not a finite number above zero."""
    return physical(name, value, low=float(np.finfo(np.float64).tiny))


def finite(**values: ArrayLike) -> None:
    """Raise ``UnphysicalInput`` by name where any of these numbers is nan or infinite."""
    for name, value in values.items():
        physical(name, value)
