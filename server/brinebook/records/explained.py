"""A result, opened: what stands behind a figure of a derived record."""

from msgspec import Struct

from brinebook.records.common import Evidence


class ExplainedInput(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One input of a result and how it is known; ``value`` is absent where it may not be told here."""

    quantity: str
    value: float | None = None
    evidence: Evidence = "default"
    source: str = ""


class ValidRange(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What an equation was made for, and the value that met it."""

    quantity: str
    low: float
    high: float
    value: float


class Explained(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One result, opened: its equation by name, its sources, its inputs, and the range it was made for."""

    quantity: str
    value: float
    equation: str
    sources: list[str]
    inputs: list[ExplainedInput]
    valid: list[ValidRange] = []
