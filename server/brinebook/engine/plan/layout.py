"""The bottle plan as columns and rows: where each variable stands, and the linear forms that read a solution."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.plan.terms import BottlePlanInput

Matrix = NDArray[np.float64]
Places = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Where each variable stands: integers first; every block of two dimensions has one row per segment."""

    bottles: Places
    foods: Places
    """Units handed up."""
    carried: Places
    """Bottles not yet empty at the end of every segment but the last."""
    drunk: Places
    eaten: Places
    """Units, in parts."""
    water_off: Places
    """Above and below the target."""
    sodium_off: Places
    carbohydrate_short: int
    peak: int
    risk: Places
    """Too dry at q90, too wet at q10."""
    deficit: Places
    plasma: Places
    taste: Places
    """One for each flavour."""
    water_so_far: Places
    """Running sums keep every row short: the solver's work grows with the numbers in its table."""
    sodium_so_far: Places
    uncounted: Places
    """Plasma sodium at the floor and at the tail by food that may be missing [mmol/L]."""
    held: Places
    """Drink left in bottles at the end of every segment [L]."""
    pocketed: Places
    """Units of food left."""
    stomach: Places
    n_all: int

    @property
    def n_integers(self) -> int:
        """Integers are bottles, foods and bottles carried on."""
        return self.bottles.size + self.foods.size + self.carried.size


@dataclass(slots=True, eq=False)
class Rows:
    """Rows ``low <= coefficients @ x <= high``, each with the code of its limit and what counts as near it."""

    coefficients: list[Matrix] = field(default_factory=list)
    low: list[Matrix] = field(default_factory=list)
    high: list[Matrix] = field(default_factory=list)
    codes: list[str] = field(default_factory=list)
    near: list[float] = field(default_factory=list)

    def at_most(self, code: str, coefficients: Matrix, high: Matrix | float, *, near: float = 0.0) -> None:
        """Add one row per line of ``coefficients``; an empty code is bookkeeping, not a limit."""
        block = np.atleast_2d(coefficients)
        self.coefficients.append(block)
        self.low.append(np.full(len(block), -np.inf))
        self.high.append(np.broadcast_to(np.asarray(high, dtype=np.float64), (len(block),)))
        self.codes += [code] * len(block)
        self.near += [near] * len(block)

    def equal(self, coefficients: Matrix, value: Matrix | float) -> None:
        """Add bookkeeping rows that hold exactly."""
        self.at_most("", coefficients, value)
        self.low[-1] = self.high[-1]


@dataclass(frozen=True, slots=True, eq=False)
class Programme:
    """All of a plan: columns, rows, bounds and costs, and the linear forms that read a solution."""

    columns: Columns
    rows: Rows
    upper: Matrix
    cost: Matrix
    volume: Matrix
    """Drink [L] swallowed in each segment is ``volume @ x``."""
    water: Matrix
    """Water [L] taken in each segment, food included."""
    sodium: Matrix
    carbohydrate: Matrix
    transport: Matrix
    """Carbohydrate [g] per segment, single sources weighed up to what they take of the gut's carriers."""

    def so_far(self, places: Places) -> Matrix:
        """Read running sums: one form for each of ``places``."""
        forms = np.zeros((len(places), self.columns.n_all))
        forms[np.arange(len(places)), places] = 1.0
        return forms

    def run(self, places: Places, steps: Matrix, *, kept_frac: Matrix | float = 1.0) -> Matrix:
        """Tie a running sum to its steps, of which a share is kept from one segment to the next; return its forms."""
        forms = self.so_far(places)
        tied = forms - steps
        tied[np.arange(1, len(places)), places[:-1]] -= np.broadcast_to(kept_frac, (len(places),))[1:]
        self.rows.equal(tied, 0.0)
        return forms


def flavours_of(inp: BottlePlanInput) -> tuple[str, ...]:
    """
    Return the flavours a rider can tire of.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.

    Returns
    -------
    tuple of str
        Each flavour once, in order.
    """
    return tuple(sorted({drink.flavour for drink in inp.drinks if drink.flavour and drink.is_allowed}))


def columns_of(inp: BottlePlanInput) -> Columns:
    """
    Lay out the variables.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.

    Returns
    -------
    Columns
        Index of every variable.
    """
    n_segments, n_drinks, n_foods = len(inp.times_h) - 1, len(inp.drinks), len(inp.foods)
    n_carrying = 0 if inp.limits.is_every_bottle_emptied else n_segments - 1
    used = 0

    def block(*shape: int) -> Places:
        nonlocal used
        size = int(np.prod(shape))
        used += size
        return np.arange(used - size, used).reshape(shape)

    return Columns(
        bottles=block(n_segments, n_drinks), foods=block(n_segments, n_foods), carried=block(n_carrying, n_drinks),
        drunk=block(n_segments, n_drinks), eaten=block(n_segments, n_foods), water_off=block(2), sodium_off=block(2),
        carbohydrate_short=int(block(1)[0]), peak=int(block(1)[0]), risk=block(2),
        deficit=block(n_segments), plasma=block(n_segments), taste=block(len(flavours_of(inp))),
        water_so_far=block(n_segments), sodium_so_far=block(n_segments), uncounted=block(2, n_segments),
        held=block(n_segments, n_drinks), pocketed=block(n_segments, n_foods), stomach=block(n_segments), n_all=used,
    )


def empty_programme(inp: BottlePlanInput) -> Programme:
    """
    Write the forms of a plan, with no row, bound or cost yet.

    Parameters
    ----------
    inp : BottlePlanInput
        The rider, the stage and the offer.

    Returns
    -------
    Programme
        Every variable is at least 0 and unbounded above.
    """
    columns = columns_of(inp)

    def forms(of_drinks: Sequence[float], of_foods: Sequence[float]) -> Matrix:
        made = np.zeros((len(inp.times_h) - 1, columns.n_all))
        for k, form in enumerate(made):
            form[columns.drunk[k]] = of_drinks
            form[columns.eaten[k]] = of_foods
        return made

    drinks, foods = inp.drinks, inp.foods
    weighed = inp.limits.max_carbohydrate_g_per_h / inp.limits.max_single_source_g_per_h
    weights = {"single": max(weighed, 1.0), "mixed": 1.0}
    return Programme(
        columns, Rows(), np.full(columns.n_all, np.inf), np.zeros(columns.n_all),
        volume=forms([1.0] * len(drinks), [0.0] * len(foods)),
        water=forms([d.water_frac for d in drinks], [f.water_l for f in foods]),
        sodium=forms([d.sodium_mg_per_l for d in drinks], [f.sodium_mg for f in foods]),
        carbohydrate=forms([d.carbohydrate_g_per_l for d in drinks], [f.carbohydrate_g for f in foods]),
        transport=forms(
            [weights[d.sugar] * d.carbohydrate_g_per_l for d in drinks],
            [weights[f.sugar] * f.carbohydrate_g for f in foods],
        ),
    )
