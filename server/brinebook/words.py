"""The sentences of ``locales/`` in Python: the same ICU MessageFormat files as the phone's, for paper and for post."""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from babel import Locale
from pyicumessageformat import Parser

LOCALES = Path(__file__).parent / "locales"
LANGUAGES = ("en", "fr", "it", "es", "nl")
Values = Mapping[str, str | float]


class UnknownSentence(LookupError):
    """The catalogue has no sentence under this key."""


@cache
def catalogue(language: str) -> Mapping[str, str]:
    """Read all files of a language as one table of key to message; a language nobody wrote is an empty one."""
    found: dict[str, str] = {}
    for path in sorted(LOCALES.glob(f"{language}.*json")):
        found |= json.loads(path.read_text("utf-8"))
    return found


@cache
def _parsed(language: str, key: str) -> tuple[str, list[Any]]:
    for spoken in (language, "en"):
        message = catalogue(spoken).get(key)
        if message is not None:
            return spoken, Parser().parse(message)
    raise UnknownSentence(key)


def _branch(language: str, part: dict[str, Any], value: str | float) -> list[Any]:
    options: dict[str, list[Any]] = part["options"]
    if part["type"] == "select":
        return options.get(str(value), options["other"])
    exact = options.get(f"={value}")
    return exact if exact is not None else options.get(Locale(language).plural_form(float(value)), options["other"])


def _said(language: str, parts: list[Any], values: Values) -> str:
    text = []
    for part in parts:
        if isinstance(part, str):
            text.append(part)
        elif "options" in part:
            text.append(_said(language, _branch(language, part, values[part["name"]]), values))
        else:
            text.append(str(values[part["name"]]))
    return "".join(text)


def say(language: str, key: str, values: Values | None = None) -> str:
    """
    Say one sentence in a language, or in English where the language has none.

    Values are strings as they shall be read; a number only where the sentence counts.

    Raises ``UnknownSentence`` for a key of no catalogue and ``KeyError`` for a value left out.
    """
    spoken, parts = _parsed(language, key)
    return _said(spoken, parts, values or {})
