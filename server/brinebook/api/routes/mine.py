"""A person's own: a copy of everything, the wish to be forgotten, notices and choices."""

from typing import Annotated

from litestar import Response, delete, get, post, put
from litestar.params import FromPath, FromQuery, RawBody
from msgspec import Meta, Struct

from brinebook import clock
from brinebook.access import ledger, notices, retention
from brinebook.api.answers import answer
from brinebook.api.handed import Asked, Running
from brinebook.files.copies import copy_of
from brinebook.sheets.errors import NothingToPrint
from brinebook.sync import keeping
from brinebook.sync.decode import decoded
from brinebook.words import LANGUAGES


class Months(Struct, frozen=True, kw_only=True):
    """How many months a sort of facts shall be kept."""

    months: Annotated[int, Meta(ge=1, le=120)]


class Answering(Struct, frozen=True, kw_only=True):
    """An answer to one version of a notice."""

    name: Annotated[str, Meta(max_length=40)]
    version: Annotated[int, Meta(ge=1, le=1_000_000)]
    is_agreed: bool


@get("/api/me/copy", sync_to_thread=True)
def take_copy(request: Asked, services: Running, language: FromQuery[str] = "en") -> Response[bytes]:
    """Give everything held about the person who asks, the document in his language; noted before it leaves."""
    who = request.user
    if language not in LANGUAGES:
        raise NothingToPrint("language", language[:40], f"one of {', '.join(LANGUAGES)}")
    made = copy_of(services.repository, who, now_ms=clock.now_ms(), language=language)
    ledger.note(services.repository, who.team_id, [ledger.did(who, "copied", about=keeping.subject_of(who))])
    headers = {"content-disposition": 'attachment; filename="brinebook-my-data.zip"'}
    return Response(made, media_type="application/zip", headers=headers)


@get("/api/me/erasure", sync_to_thread=True)
def preview_erasure(request: Asked, services: Running) -> Response[bytes]:
    """Tell what erasing would take and leave, and when a wish that stands falls due."""
    return answer(keeping.preview(services.repository, request.user))


@post("/api/me/erasure", status_code=200, sync_to_thread=True)
def wish_erasure(request: Asked, services: Running) -> Response[bytes]:
    """Ask to be forgotten once the days of grace are over."""
    keeping.wish(services.repository, request.user)
    return answer(keeping.preview(services.repository, request.user))


@delete("/api/me/erasure", status_code=200, sync_to_thread=True)
def take_erasure_back(request: Asked, services: Running) -> Response[bytes]:
    """Take the wish back."""
    keeping.take_back(services.repository, request.user)
    return answer(keeping.preview(services.repository, request.user))


@get("/api/me/notices", sync_to_thread=True)
def list_notices(request: Asked, services: Running) -> Response[bytes]:
    """List notices and choices with the person's last answers."""
    return answer(notices.asked(services.repository, request.user))


@post("/api/me/notices", status_code=200, sync_to_thread=True)
def answer_notice(request: Asked, body: RawBody, services: Running) -> Response[bytes]:
    """Keep an answer; yes and no are the same call."""
    wanted = decoded(body, Answering)
    notices.answer(
        services.repository, request.user, name=wanted.name, version=wanted.version, is_agreed=wanted.is_agreed,
    )
    return answer(notices.asked(services.repository, request.user))


@get("/api/team/months", sync_to_thread=True)
def list_months(request: Asked, services: Running) -> Response[bytes]:
    """Tell anybody of the team how long each sort of facts is kept."""
    return answer(retention.kept(services.repository, request.user.team_id, now_ms=clock.now_ms()))


@put("/api/team/months/{sort:str}", sync_to_thread=True)
def put_months(request: Asked, sort: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Set how long a sort is kept; shorter holds after thirty days, so that everybody has seen it."""
    return answer(retention.set_months(services.repository, request.user, sort, decoded(body, Months).months))
