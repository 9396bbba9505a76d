"""
Search a plan: first how many of each, then where along the road.

Equal bottles can be handed up at many feeds at the same cost, so a search over all of them at once mostly compares
twins. Deciding the totals first has no twins, and no timing can beat the least penalty found so: it is a bound. The
timing that follows nearly always reaches it within the gap; where it does not, everything is searched at once.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csc_array

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.layout import Matrix, Programme

INFEASIBLE = 2
"""The solver's word for it."""
STEPS_PER_NEAR_N = 5.0




@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The best point found, and what no point inside the limits can be better than."""

    point: Matrix
    bound_u: float


@dataclass(frozen=True, slots=True)
class Gap:
    """The stated gap: how far a plan's penalty may lie above the bound."""

    fixed_u: float
    share_frac: float
    """Of the penalty itself, besides."""

    def holds(self, penalty_u: float, bound_u: float) -> bool:
        """Tell whether a penalty is as near to the bound as stated."""
        return penalty_u - bound_u <= self.fixed_u + self.share_frac * abs(penalty_u)


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """The programme as the solver takes it, with one more column for each total and a last one for the gap."""

    coefficients: Any
    low: Matrix
    high: Matrix
    upper: Matrix
    cost: Matrix
    totals: NDArray[np.int64]
    n_integers: int
    gap_frac: float


def _table(programme: Programme, gap: Gap) -> _Table:
    """
    Add each drink and each food up over the stage, and shift the penalty.

    The solver stops at a relative gap; with a constant added to the penalty that is the stated gap.
    """
    columns, rows = programme.columns, programme.rows
    kinds = [*columns.bottles.T, *columns.foods.T]
    n, extra = columns.n_all, len(kinds)
    coefficients = np.vstack(rows.coefficients)
    tied = np.zeros((extra, n + extra + 1))
    for row, kind in zip(tied, kinds, strict=True):
        row[kind] = 1.0
    tied[:, n : n + extra] = -np.eye(extra)
    whole = np.vstack([np.hstack([coefficients, np.zeros((len(coefficients), extra + 1))]), tied])
    shift = gap.fixed_u / gap.share_frac
    return _Table(
        csc_array(whole), np.append(np.concatenate(rows.low), np.zeros(extra)),
        np.append(np.concatenate(rows.high), np.zeros(extra)),
        np.concatenate([programme.upper, np.full(extra, np.inf), [1.0]]),
        np.concatenate([programme.cost, np.zeros(extra), [shift]]),
        np.arange(n, n + extra), columns.n_integers, gap.share_frac / 2.0,
    )


def _solve(
    table: _Table, *, is_integer: NDArray[np.bool_], counts: Matrix | None = None, n_nodes: int,
) -> tuple[Matrix | None, float]:
    """Solve with some columns whole and the totals fixed if given; return the point and the bound."""
    lower = np.zeros(len(table.upper))
    upper = table.upper.copy()
    lower[-1] = 1.0
    if counts is not None:
        lower[table.totals] = upper[table.totals] = counts
    outcome: Any = milp(
        table.cost, integrality=is_integer.astype(np.int64), bounds=Bounds(lower, upper),
        constraints=LinearConstraint(table.coefficients, table.low, table.high),
        options={"mip_rel_gap": table.gap_frac, "node_limit": n_nodes},
    )
    shift = float(table.cost[-1])
    if outcome.x is None:
        return None, np.inf if outcome.status == INFEASIBLE else -np.inf
    bound = outcome.fun if outcome.mip_dual_bound is None else outcome.mip_dual_bound
    return np.maximum(np.asarray(outcome.x, dtype=np.float64), 0.0), float(bound) - shift


@dataclass(frozen=True, slots=True)
class Shadow:
    """The programme when bottles and foods need not be whole: a bound, and what each limit costs there."""

    bound_u: float
    """Infinite when the limits leave no point."""
    price_u: dict[str, float]
    """Penalty saved by loosening all rows of a limit by a step: a bottle, 0.1 L, 125 mg, 15 g, 0.5 mmol/L."""


def shadow_of(programme: Programme) -> Shadow:
    """
    Price the limits by the linear relaxation.

    Parameters
    ----------
    programme : Programme
        Rows, bounds and costs.

    Returns
    -------
    Shadow
        The least penalty without whole units, and the marginal worth of every limit.

    References
    ----------
    .. [1] Dual values of HiGHS through scipy.
    """
    rows = programme.rows
    coefficients, low, high = np.vstack(rows.coefficients), np.concatenate(rows.low), np.concatenate(rows.high)
    is_equal = low == high
    outcome: Any = linprog(
        programme.cost, A_ub=coefficients[~is_equal], b_ub=high[~is_equal], A_eq=coefficients[is_equal],
        b_eq=high[is_equal], bounds=np.column_stack([np.zeros_like(programme.upper), programme.upper]), method="highs",
    )
    if outcome.x is None:
        return Shadow(np.inf, {})
    price_u: dict[str, float] = {}
    codes = [code for code, skip in zip(rows.codes, is_equal, strict=True) if not skip]
    nears = [near for near, skip in zip(rows.near, is_equal, strict=True) if not skip]
    for code, near, marginal in zip(codes, nears, outcome.ineqlin.marginals, strict=True):
        step = near * STEPS_PER_NEAR_N if near else 1.0
        price_u[code] = price_u.get(code, 0.0) - float(marginal) * step
    price_u.pop("", None)
    return Shadow(float(outcome.fun), price_u)


def solve(programme: Programme, gap: Gap) -> Found | None:
    """
    Find a point whose penalty is within the gap of the least, counting nodes and never seconds.

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
    .. [1] Branch and cut by HiGHS through scipy.
    """
    table = _table(programme, gap)
    none = np.zeros(len(table.cost), dtype=bool)
    is_total, is_whole = none.copy(), none.copy()
    is_total[table.totals] = True
    is_whole[: table.n_integers] = True
    best: Matrix | None = None
    counted, bound = _solve(table, is_integer=is_total, n_nodes=c.PROGRAMME_TOTALS_NODES_N)
    if bound == np.inf:
        return None
    if counted is not None:
        best, _ = _solve(table, is_integer=is_whole, counts=np.rint(counted[table.totals]),
                         n_nodes=c.PROGRAMME_TIMING_NODES_N)
    if best is None or not gap.holds(_penalty_u(programme, best), bound):
        whole, whole_bound = _solve(table, is_integer=is_whole, n_nodes=c.PROGRAMME_WHOLE_NODES_N)
        bound = max(bound, whole_bound)
        best = min((point for point in (best, whole) if point is not None),
                   key=lambda point: _penalty_u(programme, point), default=None)
    if best is None:
        return None
    point = best[: programme.columns.n_all]
    point[: table.n_integers] = np.rint(point[: table.n_integers])
    return Found(point, bound)


def _penalty_u(programme: Programme, point: Matrix) -> float:
    return float(programme.cost @ point[: len(programme.cost)])
