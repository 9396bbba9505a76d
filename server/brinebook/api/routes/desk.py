"""The staff desk's own doors: who else is at the table, and what if the day were another."""

from litestar import Response, get, post
from litestar.params import FromPath, RawBody
from msgspec import Struct

from brinebook.access.disclosure import eyes_of
from brinebook.access.errors import NotYours
from brinebook.access.passkeys import must_show
from brinebook.access.roles import BODY_READERS
from brinebook.api.answers import answer
from brinebook.api.auth import must_plan
from brinebook.api.handed import Asked, Running
from brinebook.api.presence import Place, Present
from brinebook.planning.race_rules import rules_told
from brinebook.planning.what_if import Question, what_if
from brinebook.sync.decode import decoded
from brinebook.sync.edit import stage


class Table(Struct, frozen=True, kw_only=True):
    """Who else sits at a table."""

    others: list[Present]


@post("/api/presence", status_code=200, sync_to_thread=True)
def post_presence(request: Asked, body: RawBody, services: Running) -> Response[bytes]:
    """Say where one is in a table and hear who else is there."""
    who = request.user
    if who.member.role not in BODY_READERS:
        raise NotYours("role", who.member.role)
    others = services.tables.sit(who.team_id, (who.member.id, who.member.name), decoded(body, Place))
    return answer(Table(others=others))


@post("/api/stages/{stage_id:str}/what-if", status_code=200, sync_to_thread=True)
def post_what_if(request: Asked, stage_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Forecast one rider's stage as if it were otherwise; nothing is stored."""
    who = request.user
    must_plan(who)
    must_show(services.repository, who)
    asked = decoded(body, Question)
    return answer(what_if(services.repository, eyes_of(who.team_id, who.member), stage_id, asked))


@get("/api/stages/{stage_id:str}/rules", sync_to_thread=True)
def get_rules(request: Asked, stage_id: FromPath[str], services: Running) -> Response[bytes]:
    """Tell the feeding rules of a stage's day, and which feed points stand outside them."""
    return answer(rules_told(stage(services.repository, request.user.team_id, stage_id)))
