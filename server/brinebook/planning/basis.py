"""What a derived record rests on, and the name of the arithmetic that made it."""

from brinebook import __version__
from brinebook.records.derived import Basis

ENGINE_VERSION = f"{__version__}.3"
"""Raise the last part whenever the same facts would give other numbers: every record is then computed again."""


def basis_of(*keys: str) -> Basis:
    """Join the names of all inputs, each once, in one order."""
    return Basis(engine_version=ENGINE_VERSION, input_ids=sorted(set(keys)))
