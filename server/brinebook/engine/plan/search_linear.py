"""The programme without whole units, kept warm in the solver: each question changes a few bounds and asks again."""

from dataclasses import dataclass

import numpy as np
from highspy import Highs, HighsLp, HighsModelStatus, MatrixFormat
from scipy.sparse import csc_array

from brinebook.engine.plan.layout import Matrix, Programme

STEPS_PER_NEAR_N = 5.0
WHOLE_TOLERANCE = 1e-6
DUAL, PRIMAL = 1, 4
"""The solver's numbers for its simplex methods."""
NO_POINT = (HighsModelStatus.kInfeasible, HighsModelStatus.kUnboundedOrInfeasible)


@dataclass(frozen=True, slots=True)
class Shadow:
    """The programme when bottles and foods need not be whole: a bound, and what each limit costs there."""

    bound_u: float
    """Infinite when the limits leave no point."""
    price_u: dict[str, float]
    """Penalty saved by loosening all rows of a limit by a step: a bottle, 0.1 L, 125 mg, 15 g, 0.5 mmol/L."""


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """The best point inside some bounds, whole or not."""

    penalty_u: float
    point: Matrix


class Linear:
    """The programme in the solver, with one more column for each total of a drink or a food over the stage."""

    def __init__(self, programme: Programme) -> None:
        columns, self.rows = programme.columns, programme.rows
        kinds = [*columns.bottles.T, *columns.foods.T]
        n, extra = columns.n_all, len(kinds)
        tied = np.zeros((extra, n + extra))
        for row, kind in zip(tied, kinds, strict=True):
            row[kind] = 1.0
        tied[:, n:] = -np.eye(extra)
        dense = np.vstack([np.pad(np.vstack(self.rows.coefficients), ((0, 0), (0, extra))), tied])
        self.coefficients = csc_array(dense)
        self.low = np.append(np.concatenate(self.rows.low), np.zeros(extra))
        self.high = np.append(np.concatenate(self.rows.high), np.zeros(extra))
        self.upper = np.append(programme.upper, np.full(extra, np.inf))
        self.whole = np.concatenate([np.arange(n, n + extra), np.arange(columns.n_integers)]).astype(np.int32)
        """Columns that are to be whole: totals first, then what is handed up, then bottles carried on."""
        self._highs = _solver(self, np.append(programme.cost, np.zeros(extra)))

    def within(self, low: Matrix, high: Matrix) -> Corner | None:
        """Solve with other bounds on the columns that are to be whole; None when there is no point inside."""
        self._highs.changeColsBounds(len(self.whole), self.whole, low, high)
        return self.corner()

    def corner(self) -> Corner | None:
        """Solve with the bounds as they are; raise ``ArithmeticError`` when the solver gives up."""
        status = self._answer()
        if status in NO_POINT:
            return None
        if status != HighsModelStatus.kOptimal:
            raise ArithmeticError(status.name)
        point = np.maximum(np.array(self._highs.getSolution().col_value), 0.0)
        return Corner(float(self._highs.getInfo().objective_function_value), point)

    def _answer(self) -> HighsModelStatus:
        """Ask warm, and where that ends in doubt once more from the beginning, each way the solver has."""
        status = HighsModelStatus.kNotset
        for presolve, strategy in (("off", DUAL), ("on", DUAL), ("off", PRIMAL), ("on", PRIMAL)):
            if (presolve, strategy) != ("off", DUAL):
                self._highs.clearSolver()
            self._highs.setOptionValue("presolve", presolve)
            self._highs.setOptionValue("simplex_strategy", strategy)
            self._highs.run()
            status = self._highs.getModelStatus()
            if status in (HighsModelStatus.kOptimal, *NO_POINT):
                break
        self._highs.setOptionValue("presolve", "off")
        self._highs.setOptionValue("simplex_strategy", DUAL)
        return status

    def is_inside(self, point: Matrix) -> bool:
        """Tell whether a point keeps every row and every upper bound."""
        values = self.coefficients @ point
        is_kept = (values <= self.high + WHOLE_TOLERANCE) & (values >= self.low - WHOLE_TOLERANCE)
        return bool(is_kept.all() and (point <= self.upper + WHOLE_TOLERANCE).all())

    def prices_u(self) -> dict[str, float]:
        """Add up what the rows of each limit cost at the point last found."""
        price_u: dict[str, float] = {}
        duals = self._highs.getSolution().row_dual
        is_equal = self.low == self.high
        for code, near, skip, dual in zip(self.rows.codes, self.rows.near, is_equal, duals, strict=False):
            if code and not skip:
                price_u[code] = price_u.get(code, 0.0) - float(dual) * (near * STEPS_PER_NEAR_N if near else 1.0)
        return price_u


def _solver(table: Linear, cost: Matrix) -> Highs:
    lp = HighsLp()
    lp.num_row_, lp.num_col_ = table.coefficients.shape
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = cost, np.zeros(len(cost)), table.upper
    lp.row_lower_, lp.row_upper_ = table.low, table.high
    lp.a_matrix_.format_ = MatrixFormat.kColwise
    lp.a_matrix_.start_ = table.coefficients.indptr
    lp.a_matrix_.index_ = table.coefficients.indices
    lp.a_matrix_.value_ = table.coefficients.data
    highs = Highs()  # type: ignore[no-untyped-call]  # its constructor says nothing of types
    highs.silent()
    highs.setOptionValue("threads", 1)
    highs.passModel(lp)
    return highs


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
    .. [1] Dual values of HiGHS.
    """
    linear = Linear(programme)
    corner = linear.corner()
    return Shadow(np.inf, {}) if corner is None else Shadow(corner.penalty_u, linear.prices_u())
