"""
Search a plan: first how many of each, then where along the road.

Equal bottles can be handed up at many feeds at the same cost, so a search over all of them at once mostly compares
twins. Branching on the totals first has no twins and lifts the bound; below a set of totals, feeds are decided in the
order of the road. The search dives to a plan, then returns to whatever could still be best. Each step is one linear
programme that differs from the last by a bound or two, which the solver answers in half a millisecond.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.layout import Matrix, Programme
from brinebook.engine.plan.search_linear import WHOLE_TOLERANCE, Corner, Linear, Shadow

UP_FROM_FRAC = (0.1, 0.2)
"""A dive rounds up from here on, by turns: a bottle too many is cheaper to mend than one too few."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The best point found, what no point inside the limits can be better than, and the prices of the limits."""

    point: Matrix
    bound_u: float
    shadow: Shadow


@dataclass(frozen=True, slots=True)
class Gap:
    """The stated gap: how far a plan's penalty may lie above the bound."""

    fixed_u: float
    share_frac: float
    """Of the penalty itself, besides."""

    def allowed_u(self, penalty_u: float) -> float:
        """Give the gap at a penalty."""
        return self.fixed_u + self.share_frac * abs(penalty_u)

    def holds(self, penalty_u: float, bound_u: float) -> bool:
        """Tell whether a penalty is as near to the bound as stated."""
        return penalty_u - bound_u <= self.allowed_u(penalty_u)


@dataclass(frozen=True, slots=True, eq=False)
class _Branch:
    """Part of the search: bounds on what is to be whole, and what nothing inside can be better than."""

    bound_u: float
    low: Matrix
    high: Matrix


class _Search:
    """What is found so far, and what is left to look at."""

    def __init__(self, programme: Programme, gap: Gap) -> None:
        self.linear, self.gap = Linear(programme), gap
        columns = programme.columns
        self._carried = columns.carried.ravel()
        self._n_totals = len(self.linear.whole) - columns.n_integers
        self._n_handed = self._n_totals + columns.bottles.size + columns.foods.size
        self._open: list[tuple[float, int, _Branch]] = []
        self._n_opened = self._n_dives = 0
        self.best: Corner | None = None
        self.aside_u = np.inf
        """Least bound of what was left aside: no better than the gap, or without an answer from the solver."""

    def bound_u(self, *others: _Branch | None) -> float:
        """Return what nothing left to look at, nor what is found, can be better than."""
        left = [branch.bound_u for branch in others if branch is not None]
        left += [self._open[0][0]] if self._open else []
        left += [] if self.best is None else [self.best.penalty_u]
        return float(min([*left, self.aside_u]))

    def step(self, branch: _Branch) -> _Branch | None:
        """Look into a branch; return the side to dive into, or None when nothing is left to find inside."""
        try:
            corner = self.linear.within(branch.low, branch.high)
        except ArithmeticError:
            self.aside_u = min(self.aside_u, branch.bound_u)
            return None
        if corner is None:
            return None
        if self._is_no_better(corner):
            self.aside_u = min(self.aside_u, corner.penalty_u)
            return None
        place = self._place(corner.point)
        if place is not None:
            return self._split(branch, corner, place)
        self.best = corner
        return None

    def next(self) -> _Branch | None:
        """Return the most promising branch left, or None."""
        self._n_dives += 1
        return heappop(self._open)[2] if self._open else None

    def _is_no_better(self, corner: Corner) -> bool:
        best = self.best
        return best is not None and corner.penalty_u >= best.penalty_u - self.gap.allowed_u(best.penalty_u)

    def _place(self, point: Matrix) -> int | None:
        """Find what to decide next; carried bottles are rounded up where the cages have room for them."""
        values = point[self.linear.whole]
        off = np.abs(values - np.rint(values))
        if off[: self._n_totals].max(initial=0.0) > WHOLE_TOLERANCE:
            return int(off[: self._n_totals].argmax())
        handed = np.flatnonzero(off[self._n_totals : self._n_handed] > WHOLE_TOLERANCE)
        if len(handed):
            return self._n_totals + int(handed[0])
        if off[self._n_handed :].max(initial=0.0) <= WHOLE_TOLERANCE:
            return None
        rounded = point.copy()
        rounded[self._carried] = np.ceil(rounded[self._carried] - WHOLE_TOLERANCE)
        if self.linear.is_inside(rounded):
            point[self._carried] = rounded[self._carried]
            return None
        return self._n_handed + int(off[self._n_handed :].argmax())

    def _split(self, branch: _Branch, corner: Corner, place: int) -> _Branch:
        """Part a branch at a value that is not whole; keep one side for later and return the other."""
        value = float(corner.point[self.linear.whole[place]])
        below, above = branch.high.copy(), branch.low.copy()
        below[place], above[place] = np.floor(value), np.floor(value) + 1.0
        sides = (_Branch(corner.penalty_u, branch.low, below), _Branch(corner.penalty_u, above, branch.high))
        is_up = value - float(np.floor(value)) >= UP_FROM_FRAC[self._n_dives % len(UP_FROM_FRAC)]
        self._n_opened += 1
        heappush(self._open, (corner.penalty_u, -self._n_opened, sides[not is_up]))
        return sides[is_up]


def _run(search: _Search, branch: _Branch, steps: Iterable[int]) -> float:
    """Search until the gap is closed, nothing is left or the steps are used up; return the bound."""
    ahead: _Branch | None = branch
    for n in steps:
        if ahead is None:
            break
        deeper = search.step(ahead)
        best, bound_u = search.best, search.bound_u(deeper)
        is_enough = best is not None and (search.gap.holds(best.penalty_u, bound_u) or n >= c.PROGRAMME_STEPS_N)
        if is_enough:
            return bound_u
        ahead = deeper or search.next()
    return search.bound_u(ahead)


def solve(programme: Programme, gap: Gap) -> Found | None:
    """
    Find a point whose penalty is within the gap of the least, counting steps and never seconds.

    Parameters
    ----------
    programme : Programme
        Rows, bounds and costs.
    gap : Gap
        The stated gap.

    Returns
    -------
    Found or None
        The best point with its bound; None when the limits leave none.

    References
    ----------
    .. [1] Branch and bound over linear programmes solved by HiGHS.
    """
    search = _Search(programme, gap)
    root = search.linear.corner()
    if root is None:
        return None
    shadow = Shadow(root.penalty_u, search.linear.prices_u())
    whole = search.linear.whole
    branch = _Branch(root.penalty_u, np.zeros(len(whole)), search.linear.upper[whole])
    bound_u = _run(search, branch, range(1, c.PROGRAMME_MOST_STEPS_N))
    if search.best is None:
        return None
    point = search.best.point[: programme.columns.n_all]
    n_integers = programme.columns.n_integers
    point[:n_integers] = np.rint(point[:n_integers])
    return Found(point, bound_u, shadow)
