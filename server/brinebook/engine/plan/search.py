"""
Search a plan: first how many of each, then where along the road.

Equal bottles can be handed up at many feeds at the same cost, so a search over all of them at once mostly
compares twins. Deciding the totals first has no twins and gives the least penalty that any timing can reach.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.programme import Matrix, Programme


def _totals(programme: Programme) -> Matrix:
    """Rows that add each drink and each food up over the stage."""
    columns = programme.columns
    kinds = [*columns.bottles.T, *columns.foods.T]
    rows = np.zeros((len(kinds), columns.n_all))
    for row, kind in zip(rows, kinds, strict=True):
        row[kind] = 1.0
    return rows


def _best(
    programme: Programme, is_integer: NDArray[np.bool_], *, n_nodes: int,
    tied: Matrix | None = None, counts: Matrix | None = None,
) -> Matrix | None:
    """Solve with ``tied @ x`` equal to ``counts`` if given, else equal to further integer variables."""
    rows, columns = programme.rows, programme.columns
    coefficients = np.vstack(rows.coefficients)
    low, high = np.concatenate(rows.low), np.concatenate(rows.high)
    extra = 0 if tied is None or counts is not None else len(tied)
    coefficients = np.hstack([coefficients, np.zeros((len(coefficients), extra))])
    if tied is not None:
        equal = np.zeros(len(tied)) if counts is None else counts
        coefficients = np.vstack([coefficients, np.hstack([tied, -np.eye(len(tied))[:, :extra]])])
        low, high = np.append(low, equal), np.append(high, equal)
    outcome: Any = milp(
        np.append(programme.cost, np.zeros(extra)),
        integrality=np.append(is_integer, np.ones(extra, dtype=bool)).astype(np.int64),
        bounds=Bounds(np.zeros(columns.n_all + extra), np.append(programme.upper, np.full(extra, np.inf))),
        constraints=LinearConstraint(coefficients, low, high),
        options={"mip_rel_gap": c.PROGRAMME_REL_GAP, "node_limit": n_nodes},
    )
    if outcome.x is None:
        return None
    point: Matrix = np.maximum(np.asarray(outcome.x, dtype=np.float64)[: columns.n_all], 0.0)
    point[is_integer] = np.rint(point[is_integer])
    return point


def solve(programme: Programme, *, is_timing_free: bool) -> Matrix | None:
    """
    Find the point of least penalty, counting nodes and never seconds.

    Parameters
    ----------
    programme : Programme
        Rows, bounds and costs.
    is_timing_free : bool
        True when a bottle may ride on half full, so that good totals nearly always have a timing.

    Returns
    -------
    array, shape (n,) or None
        The best point found; None when the limits leave none.
    """
    columns = programme.columns
    is_integer = np.arange(columns.n_all) < columns.n_integers
    if is_timing_free:
        tied = _totals(programme)
        totals = _best(programme, np.zeros_like(is_integer), n_nodes=c.PROGRAMME_TOTALS_NODES_N, tied=tied)
        if totals is not None:
            timed = _best(
                programme, is_integer, n_nodes=c.PROGRAMME_TIMING_NODES_N, tied=tied, counts=np.rint(tied @ totals),
            )
            if timed is not None:
                return timed
    return _best(programme, is_integer, n_nodes=c.PROGRAMME_WHOLE_NODES_N)
