"""The one table from error to answer (RFC 9457). HTTP numbers live here alone."""

import logging
from dataclasses import dataclass
from typing import Any

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException
from msgspec import Raw, Struct

from brinebook.access import errors as access
from brinebook.engine import errors as engine
from brinebook.files import errors as files
from brinebook.jobs.recompute_queue import describe
from brinebook.push import errors as push
from brinebook.sheets import errors as sheets
from brinebook.storage import errors as storage
from brinebook.sync import errors as sync

_log = logging.getLogger("brinebook.api")
_refusals = logging.getLogger("brinebook.access")


class Problem(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The body of every refusal."""

    type: str
    title: str
    status: int
    code: str
    detail: str = ""
    field: str = ""
    value: str = ""
    limit: str = ""
    after_s: int | None = None
    epoch: str = ""
    current: Raw | None = None


@dataclass(frozen=True)
class Row:
    """How one class of error is answered."""

    status: int
    code: str
    title: str


INTERNAL = Row(500, "internal", "Something went wrong here; nothing was lost.")
TABLE: dict[type[BaseException], Row] = {
    storage.StorageError: Row(503, "unavailable", "The store did not answer; try again."),
    storage.StorageUnavailable: Row(503, "unavailable", "The store did not answer; try again."),
    storage.StorageConflict: Row(503, "unavailable", "The store did not answer; try again."),
    storage.StoreDamaged: Row(503, "unavailable", "The store is damaged."),
    storage.KeysMissing: Row(503, "unavailable", "The store did not answer; try again."),
    storage.NotFound: Row(404, "not_found", "There is no such record."),
    storage.StaleWrite: Row(409, "stale_edit", "Somebody else edited this record first."),
    sync.SyncError: Row(400, "bad_request", "This request cannot be read."),
    sync.BadRecord: Row(400, "bad_record", "A field is not what it must be."),
    sync.UnsupportedProtocol: Row(400, "unsupported_protocol", "This app speaks another protocol."),
    sync.ClockAhead: Row(503, "unavailable", "The clock of the server is wrong."),
    sync.TooLarge: Row(413, "too_large", "Too much at once; send it in halves."),
    sync.TooManyEvents: Row(413, "too_many_events", "Too many facts at once; send them in halves."),
    access.AccessError: Row(403, "not_yours", "This is not for you to see or do."),
    access.NotSignedIn: Row(401, "not_signed_in", "Join again with an invitation; nothing on this phone is lost."),
    access.DeviceRevoked: Row(403, "revoked", "This device was signed out."),
    access.NotYours: Row(403, "not_yours", "This is not for you to see or do."),
    access.RiderAlone: Row(403, "rider_alone", "A rider keeps a phone of his own; the invitation is still good."),
    access.InviteUnusable: Row(410, "invite_unusable", "This invitation was used, is too old, or was mistyped."),
    access.PasskeyNeeded: Row(403, "passkey_needed", "Sign in with the passkey; the invitation is still good."),
    access.InviteImpossible: Row(400, "bad_record", "Nobody can be invited like this."),
    access.MonthsImpossible: Row(400, "bad_record", "Nothing is kept so long, or so short."),
    access.NoSuchNotice: Row(409, "other_version", "This text has changed; read it again."),
    access.PasskeyRefused: Row(403, "passkey_refused", "This passkey was not accepted."),
    access.VerifyAgain: Row(403, "verify_again", "Show first that it is you, with your passkey."),
    access.TooManyAttempts: Row(429, "too_many_attempts", "Too many wrong codes; wait a little."),
    engine.EngineError: Row(422, "not_computable", "This cannot be computed."),
    engine.UnphysicalInput: Row(422, "unphysical", "A figure cannot be true."),
    engine.NoSolution: Row(422, "no_solution", "There is no solution."),
    files.FileProblem: Row(422, "bad_file", "This file cannot be read."),
    sheets.SheetsError: Row(503, "no_paper", "This server cannot print."),
    sheets.PaperUnavailable: Row(503, "no_paper", "This server cannot print PDFs."),
    sheets.NothingToPrint: Row(404, "nothing_to_print", "There is nothing to print."),
    push.PushError: Row(400, "bad_endpoint", "This is no address for wake-ups."),
    push.EndpointRefused: Row(400, "bad_endpoint", "This is no address for wake-ups."),
}
REFUSED = frozenset({401, 403, 410, 429})
"""Who came in the wrong way, or wanted what is not his."""
_BY_STATUS = {404: "not_found", 405: "method_not_allowed", 413: "too_large"}


def row_for(problem: BaseException) -> Row:
    """Find the row of the nearest class in the table."""
    return next((TABLE[kind] for kind in type(problem).__mro__ if kind in TABLE), INTERNAL)


def _text(problem: BaseException, name: str) -> str:
    value = getattr(problem, name, "")
    return "" if value is None else str(value)


def problem_record(problem: BaseException) -> Problem:
    """Describe an error for machines and, in one sentence, for people."""
    if isinstance(problem, HTTPException):
        code = _BY_STATUS.get(problem.status_code, "bad_request")
        return Problem(type=f"urn:brinebook:{code}", title=problem.detail, status=problem.status_code, code=code)
    row = row_for(problem)
    if row is INTERNAL:
        return Problem(type=f"urn:brinebook:{row.code}", title=row.title, status=row.status, code=row.code)
    current = getattr(problem, "current", None)
    line = getattr(problem, "line", None)
    return Problem(
        type=f"urn:brinebook:{row.code}", title=row.title, status=row.status, code=row.code,
        field=_text(problem, "field") or _text(problem, "name"), value=_text(problem, "value"),
        limit=_text(problem, "limit"), detail="" if line is None else f"line {line}",
        after_s=getattr(problem, "after_s", None), epoch=_text(problem, "epoch"),
        current=None if current is None else Raw(current),
    )


def _log_problem(request: Request[Any, Any, Any], problem: Exception, record: Problem) -> None:
    """Write down failures and refusals by the pattern of the route: an address may hold an id, or a line break."""
    asked = f"{request.method} {request.scope.get('path_template') or 'an unknown address'}"
    if record.code == INTERNAL.code:
        _log.error("%s failed: %s", asked, describe(problem))
    elif record.status in REFUSED:
        who = request.scope.get("user")
        _refusals.warning("%s refused: %s, device %s", asked, record.code, who.device.id if who else "unknown")


def answer_problem(request: Request[Any, Any, Any], problem: Exception) -> Response[bytes]:
    """Answer any error; the unexpected is logged without its message, which may carry health values."""
    record = problem_record(problem)
    _log_problem(request, problem, record)
    headers = {} if record.after_s is None else {"Retry-After": str(record.after_s)}
    return Response(
        msgspec.json.encode(record), status_code=record.status, media_type="application/problem+json", headers=headers,
    )


