"""
Logs in lines or as JSON, one object per line. Neither holds what an error said: it may carry a figure of a body.

Of an error stays its class and where it was raised; of a message only what our own code wrote.
"""

import json
import logging
import sys
import traceback
from datetime import UTC, datetime
from types import TracebackType
from typing import Literal

Form = Literal["text", "json"]
FORMS: tuple[Form, ...] = ("text", "json")
PLACES_SHOWN = 8
TEXT = "%(asctime)s %(name)s %(levelname)s %(message)s"
_Raised = tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None]


def places(trace: TracebackType | None, most: int = PLACES_SHOWN) -> list[str]:
    """List where an error went through, the innermost last: files and lines, no values."""
    frames = traceback.extract_tb(trace)[-most:]
    return [f"{frame.filename.rsplit('/', 1)[-1]}:{frame.lineno} {frame.name}" for frame in frames]


def _at(record: logging.LogRecord) -> str:
    return datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")


class _Valueless(logging.Formatter):
    def formatTime(self, record: logging.LogRecord, datefmt: str | None = None) -> str:  # noqa: ARG002, N802 the library's
        return _at(record)

    def formatException(self, ei: _Raised) -> str:  # noqa: N802 the name is the library's
        kind = "" if ei[0] is None else ei[0].__name__
        return "  " + " < ".join([kind, *reversed(places(ei[2]))])


class JsonFormatter(logging.Formatter):
    """Writes a record as one JSON object on one line."""

    def format(self, record: logging.LogRecord) -> str:
        """Write time, level, who logs, what, and of an error its class and places."""
        told: dict[str, object] = {
            "at": _at(record), "level": record.levelname.lower(), "logger": record.name, "message": record.getMessage(),
        }
        if record.exc_info and record.exc_info[0] is not None:
            told |= {"error": record.exc_info[0].__name__, "places": places(record.exc_info[2])}
        return json.dumps(told, ensure_ascii=False)


def set_up(form: Form) -> None:
    """Send everything from warnings on to standard error in one form."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonFormatter() if form == "json" else _Valueless(TEXT))
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
