"""A label's lines to what a gram and a litre hold, and the classic mistakes as questions, never as repairs."""

from dataclasses import dataclass
from typing import Literal

from brinebook.engine.constants import mixing as c
from brinebook.engine.errors import physical_positive
from brinebook.engine.units import sodium_mg

Nutrient = Literal["sodium", "salt", "carbohydrate", "fructose"]
Unit = Literal["mg", "g", "mmol"]
LabelBasis = Literal["serving", "100_g", "100_ml", "litre"]
Code = Literal[
    "is_salt", "is_sodium", "g_for_mg", "mg_for_g", "mmol_for_mg", "mg_for_mmol", "per_serving", "per_100_ml",
    "per_litre", "per_100_g", "unusual", "disagree", "more_than_powder", "serving_missing",
]
IN_G = 1000.0
BASIS_CODE: dict[LabelBasis, Code] = {
    "serving": "per_serving", "100_ml": "per_100_ml", "litre": "per_litre", "100_g": "per_100_g",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line as typed."""

    nutrient: Nutrient
    value: float
    unit: Unit
    basis: LabelBasis


@dataclass(frozen=True, slots=True)
class Serving:
    """How much powder makes how much drink, as the label says."""

    powder_g: float | None = None
    drink_l: float | None = None

    @property
    def is_complete(self) -> bool:
        """Tell whether the strength of the mixed drink is known."""
        return self.powder_g is not None and self.drink_l is not None


@dataclass(frozen=True, slots=True)
class Question:
    """
    Something about a line that a person has to say.

    ``typed`` is the figure as typed and ``otherwise`` what another reading would give: mg of sodium or g of
    carbohydrate per litre when the strength is known (``is_per_l``), else per gram of powder.
    """

    line_n: int
    code: Code
    typed: float
    otherwise: float | None
    is_per_l: bool

    @property
    def key(self) -> str:
        """Name the question, so that its answer can be remembered."""
        return f"{self.line_n}:{self.code}"


@dataclass(frozen=True, slots=True)
class LabelReading:
    """What the label says of a gram, and what has to be asked before it is believed."""

    sodium_mg_per_g: float
    carbohydrate_g_per_g: float
    fructose_frac: float | None
    questions: tuple[Question, ...]


def _mass(line: Line) -> float:
    """Return mg of sodium, or g of carbohydrate, in one unit of the basis."""
    if line.nutrient in {"carbohydrate", "fructose"}:
        return line.value / IN_G if line.unit == "mg" else line.value
    if line.unit == "mmol":
        return sodium_mg(line.value)
    in_mg = line.value * (IN_G if line.unit == "g" else 1.0)
    return in_mg / c.LABEL_SALT_PER_SODIUM_N if line.nutrient == "salt" else in_mg


def _per_g(line: Line, serving: Serving) -> float | None:
    """Return the line per gram of powder; None while the label's serving is missing."""
    mass = _mass(line)
    if line.basis == "100_g":
        return mass / 100.0
    if line.basis == "serving":
        return None if serving.powder_g is None else mass / serving.powder_g
    if serving.powder_g is None or serving.drink_l is None:
        return None
    per_l = mass * (c.MG_PER_L_PER_100_ML_N if line.basis == "100_ml" else 1.0)
    return per_l * serving.drink_l / serving.powder_g


def _shown(per_g: float, serving: Serving) -> float:
    """Return the figure people know: per litre of drink where the strength is known, else per gram."""
    if serving.powder_g is None or serving.drink_l is None:
        return per_g
    return per_g * serving.powder_g / serving.drink_l


def _usual(line: Line, serving: Serving) -> tuple[float, float]:
    is_sodium = line.nutrient in {"sodium", "salt"}
    if serving.is_complete:
        return c.USUAL_SODIUM_MG_PER_L if is_sodium else c.USUAL_CARBOHYDRATE_G_PER_L
    return c.USUAL_SODIUM_MG_PER_G if is_sodium else c.USUAL_CARBOHYDRATE_G_PER_G


def _other_readings(line: Line) -> list[tuple[Code, Line]]:
    """List the line as it reads if one classic mistake was made in typing it."""
    found: list[tuple[Code, Line]] = []
    if line.nutrient == "sodium":
        found.append(("is_salt", Line("salt", line.value, line.unit, line.basis)))
    if line.nutrient == "salt":
        found.append(("is_sodium", Line("sodium", line.value, line.unit, line.basis)))
    swaps: list[tuple[Code, Unit, Unit]] = [("g_for_mg", "g", "mg"), ("mg_for_g", "mg", "g")]
    if line.nutrient == "sodium":
        swaps += [("mmol_for_mg", "mmol", "mg"), ("mg_for_mmol", "mg", "mmol")]
    found += [(code, Line(line.nutrient, line.value, to, line.basis)) for code, was, to in swaps if line.unit == was]
    return found + [
        (code, Line(line.nutrient, line.value, line.unit, basis))
        for basis, code in BASIS_CODE.items() if basis != line.basis
    ]


def _asked_of(line: Line, line_n: int, serving: Serving) -> list[Question]:
    """Ask about one line: out of the usual range, or in a unit labels do not print it in."""
    per_g = _per_g(line, serving)
    if per_g is None:
        return [Question(line_n, "serving_missing", line.value, None, is_per_l=False)]
    if line.nutrient == "fructose":
        return []
    typed, (low, high) = _shown(per_g, serving), _usual(line, serving)
    is_usual, is_per_l = low <= typed <= high, serving.is_complete
    asked = []
    for code, other in _other_readings(line):
        other_per_g = _per_g(other, serving)
        otherwise = None if other_per_g is None else _shown(other_per_g, serving)
        # Labels print sodium in milligrams and salt in grams: the other way round is worth a question of its own.
        is_odd = (code == "is_salt" and line.unit == "g") or (code == "is_sodium" and line.unit == "mg")
        if otherwise is not None and (is_odd or (not is_usual and low <= otherwise <= high)):
            asked.append(Question(line_n, code, typed, otherwise, is_per_l))
    if not is_usual and not asked and line.value > 0.0:
        asked.append(Question(line_n, "unusual", typed, None, is_per_l))
    return asked


def _disagreeing(lines: tuple[Line, ...], group: set[str], serving: Serving) -> list[Question]:
    """Two lines about the same thing must say the same: sodium and salt, or a serving and 100 mL."""
    known = [(n, value) for n, line in enumerate(lines) if line.nutrient in group
             for value in (_per_g(line, serving),) if value is not None]
    if len(known) < 2:  # noqa: PLR2004 - one line cannot disagree
        return []
    first, asked = known[0][1], []
    for n, value in known[1:]:
        if abs(value - first) > c.DISAGREE_FRAC * max(value, first):
            asked.append(Question(n, "disagree", _shown(first, serving), _shown(value, serving), serving.is_complete))
    return asked


def _first_per_g(lines: tuple[Line, ...], group: set[str], serving: Serving) -> float:
    values = (_per_g(line, serving) for line in lines if line.nutrient in group)
    return next((value for value in values if value is not None), 0.0)


def label_reading(lines: tuple[Line, ...], *, serving: Serving) -> LabelReading:
    """
    Read a label.

    Parameters
    ----------
    lines : tuple of Line
        The lines as typed; the first of a nutrient counts, further ones are compared with it.
    serving : Serving
        Powder [g] and drink [L] of one serving; needed for lines per serving, per 100 mL and per litre.

    Returns
    -------
    LabelReading
        Sodium [mg/g] and carbohydrate [g/g] of the powder, the share of fructose, and open questions.

    Raises
    ------
    UnphysicalInput
        If the serving is given as zero or less.

    Notes
    -----
    Nothing is repaired: a question carries the figure as typed and as it would read otherwise.

    References
    ----------
    .. [1] Salt on labels, Source key ``eu1169_2011``; usual ranges, Source key ``own_defaults``.

    Examples
    --------
    >>> read = label_reading((Line("salt", 1.25, "g", "litre"),), serving=Serving(62.0, 1.0))
    >>> round(read.sodium_mg_per_g * 62.0), read.questions
    (500, ())
    """
    for name, value in (("serving_g", serving.powder_g), ("serving_l", serving.drink_l)):
        if value is not None:
            physical_positive(name, value)
    sodium = _first_per_g(lines, {"sodium", "salt"}, serving)
    carbohydrate = _first_per_g(lines, {"carbohydrate"}, serving)
    fructose = _first_per_g(lines, {"fructose"}, serving)
    has_fructose = any(line.nutrient == "fructose" for line in lines) and carbohydrate > 0.0
    questions = [one for n, line in enumerate(lines) for one in _asked_of(line, n, serving)]
    questions += _disagreeing(lines, {"sodium", "salt"}, serving) + _disagreeing(lines, {"carbohydrate"}, serving)
    # Salt is 2.5 times its sodium: what a gram holds cannot weigh more than the gram.
    held_g_per_g = carbohydrate + sodium * c.LABEL_SALT_PER_SODIUM_N / IN_G
    if held_g_per_g > 1.0 + c.DISAGREE_FRAC / 2.0:
        questions.append(Question(0, "more_than_powder", held_g_per_g, None, is_per_l=False))
    return LabelReading(
        sodium, carbohydrate, min(1.0, fructose / carbohydrate) if has_fructose else None, tuple(questions),
    )
