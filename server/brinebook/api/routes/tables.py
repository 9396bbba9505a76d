"""Data in and out as tables: who asks, what for, and in which form."""

from dataclasses import replace
from typing import Any

from litestar import Response, get, post
from litestar.params import FromPath, FromQuery, RawBody
from msgspec import Struct

from brinebook import clock
from brinebook.access import ledger, notices
from brinebook.access.devices import SignedIn
from brinebook.access.disclosure import eyes_of, may_read_fact
from brinebook.access.errors import NotYours
from brinebook.access.passkeys import must_show
from brinebook.access.roles import BODY_READERS
from brinebook.api.answers import answer
from brinebook.api.auth import must_plan
from brinebook.api.handed import Asked, Running
from brinebook.files.errors import FileProblem
from brinebook.files.exports import TABLES, to_csv, to_json, to_parquet, to_xlsx
from brinebook.files.imports import read_table
from brinebook.planning.books import Books, open_books
from brinebook.records.edited import Rider
from brinebook.sync.errors import BadRecord

OUTSIDE = "outside"
REACHES = ("team", OUTSIDE)
FORMS = {
    "csv": "text/csv; charset=utf-8", "parquet": "application/vnd.apache.parquet", "json": "application/json",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


class Rows(Struct, frozen=True, kw_only=True):
    """What was read out of a table, for a person to look at."""

    rows: list[dict[str, Any]]


@get("/api/export/{table:str}", sync_to_thread=True)
def export_table(
    request: Asked, table: FromPath[str], services: Running, form: FromQuery[str] = "csv",
    purpose: FromQuery[str] = "own use", reach: FromQuery[str] = "team",
) -> Response[bytes]:
    """
    Take data out: one table, or ``all`` of them where the form holds several.

    What leaves the team, ``reach=outside``, holds only those riders who chose to let it.
    """
    if request.user.member.role not in BODY_READERS:
        raise NotYours("role", request.user.member.role)
    must_show(services.repository, request.user)
    who = request.user
    rider_ids = frozenset(rider.id for rider in services.repository.all_edited(who.team_id, Rider))
    if reach not in REACHES:
        raise FileProblem("reach", reach[:20], " or ".join(REACHES))
    if reach == OUTSIDE:
        rider_ids &= notices.sharers(services.repository, who.team_id)
    found = open_books(services.repository, who.team_id, eyes_of(who.team_id, who.member))
    books = _of(rider_ids, _seen_by(who, found))
    body = _written(table, form, purpose, books)
    outside = f"{OUTSIDE}, " if reach == OUTSIDE else ""
    ledger.note(services.repository, who.team_id, [
        ledger.did(who, "exported", about=rider_id, what=f"{outside}{table} {form}: {purpose[:80]}")
        for rider_id in sorted(rider_ids)
    ])
    headers = {"content-disposition": f'attachment; filename="brinebook-{table}.{form}"'}
    return Response(body, media_type=FORMS[form], headers=headers)


def _written(table: str, form: str, purpose: str, books: Books) -> bytes:
    if form not in FORMS:
        raise FileProblem("form", form[:20], " or ".join(FORMS))
    names = tuple(TABLES) if table == "all" and form in {"xlsx", "json"} else (table,)
    if any(name not in TABLES for name in names):
        raise FileProblem("table", table[:20], f"{' or '.join(TABLES)}, or all as xlsx or json")
    made = [TABLES[name](books) for name in names]
    if form == "xlsx":
        return to_xlsx(made)
    if form == "json":
        return to_json(made, made_at_ms=clock.now_ms(), purpose=purpose[:80])
    return to_csv(made[0]) if form == "csv" else to_parquet(made[0])


def _seen_by(who: SignedIn, books: Books) -> Books:
    """Leave out facts that this person's phone would not get either: symptoms are the doctor's and the rider's own."""
    seen = tuple(fact for fact in books.facts if may_read_fact(who.member, fact.event.kind, fact.event.subject_id))
    return replace(books, facts=seen)


def _of(rider_ids: frozenset[str], books: Books) -> Books:
    """Leave in these riders only; what is about the team as a whole names nobody."""
    facts = tuple(fact for fact in books.facts if fact.event.subject_id in rider_ids | {books.team_id})
    return replace(books, facts=facts, riders={id_: one for id_, one in books.riders.items() if id_ in rider_ids})


@post("/api/import/{what:str}", status_code=200, sync_to_thread=True)
def import_table(request: Asked, what: FromPath[str], body: RawBody) -> Response[bytes]:
    """Read a table; nothing is stored until a person has seen it and keeps it."""
    must_plan(request.user)
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadRecord("body", "", "text in UTF-8") from problem
    return answer(Rows(rows=read_table(what, text)))
