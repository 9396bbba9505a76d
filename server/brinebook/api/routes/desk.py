"""The staff desk's own doors: who else is at the table."""

from litestar import Response, post
from litestar.params import RawBody
from msgspec import Struct

from brinebook.access.errors import NotYours
from brinebook.access.roles import BODY_READERS
from brinebook.api.answers import answer
from brinebook.api.handed import Asked, Running
from brinebook.api.presence import Place, Present
from brinebook.sync.decode import decoded


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
