"""What a queue of computations promises, in this process or shared between servers."""

from collections.abc import Callable
from typing import Protocol, TypeVar

from brinebook.planning.recompute import Changed

T = TypeVar("T")


class Queue(Protocol):
    """Computes what changes make stale: a burst once, a failure without harm to facts, one team at a time."""

    def start(self) -> None:
        """Start working, or handing over."""

    def close(self) -> None:
        """Stop; what is pending is computed later."""

    def add(self, team_id: str, changed: Changed) -> None:
        """Ask for a computation; returns at once."""

    def exclusive(self, work: Callable[[], T]) -> T:
        """Run a planning use case while nothing else is being computed."""

    def wait_until_idle(self, timeout_s: float) -> bool:
        """Wait until nothing is pending; tell whether that came true."""
