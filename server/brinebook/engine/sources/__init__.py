"""Key to citation, DOI, what we took, and whose bodies it describes; one file per topic."""

import pkgutil
from dataclasses import dataclass
from importlib import import_module


@dataclass(frozen=True, slots=True)
class Source:
    """One publication or own synthesis that numbers in ``constants`` come from."""

    citation: str
    doi: str
    used_for: str
    population: str


def all_sources() -> dict[str, Source]:
    """
    Merge the bibliographies of all topics.

    Returns
    -------
    dict
        Source key to source. Each topic file holds its part as ``SOURCES``.
    """
    merged: dict[str, Source] = {}
    for module in pkgutil.iter_modules(__path__):
        merged |= import_module(f"{__name__}.{module.name}").SOURCES
    return merged
