"""Why this number: inputs with their provenance, by document."""


import msgspec
from litestar import Response, get
from litestar.params import FromPath, FromQuery
from msgspec import Struct

from brinebook.access import ledger
from brinebook.access.disclosure import eyes_of, may_read_document, sort_of_document
from brinebook.access.errors import VerifyAgain
from brinebook.access.passkeys import holds_back
from brinebook.api.answers import answer
from brinebook.api.handed import Asked, Running
from brinebook.engine.sources import all_sources
from brinebook.records.derived import Basis, Flag, Reason
from brinebook.records.explained import Explained
from brinebook.storage.errors import NotFound


class Why(Struct, frozen=True, kw_only=True):
    """What a document was computed from, and why its figures are what they are."""

    document_id: str = ""
    basis: Basis | None = None
    reasons: list[Reason] = []
    changed: list[Reason] = []
    flags: list[Flag] = []
    explained: list[Explained] = []
    sources: dict[str, str] = {}
    """Citation of each source key that is named."""


@get("/api/why/{document_id:str}", sync_to_thread=True)
def why(
    request: Asked, document_id: FromPath[str], services: Running, quantity: FromQuery[str | None] = None,
) -> Response[bytes]:
    """Open a figure. A document somebody may not see is as absent as one that is not there."""
    who = request.user
    with services.repository.snapshot(eyes_of(who.team_id, who.member)):
        found = services.repository.document(who.team_id, document_id)
    if found is None or not may_read_document(who.member, found.type, found.subject_id):
        raise NotFound("document", document_id)
    sort = sort_of_document(found.type)
    if sort is not None:
        if holds_back(services.repository, who, {(found.subject_id, sort)}):
            raise VerifyAgain
        ledger.looked(services.repository, who, {(found.subject_id, sort)})
    told = msgspec.structs.replace(msgspec.json.decode(found.body or b"{}", type=Why), document_id=document_id)
    return answer(_with_sources(told if quantity is None else _about(told, quantity)))


def _with_sources(told: Why) -> Why:
    """Put the citation beside every key, so that nobody has to trust a name."""
    named = {key for one in told.explained for key in (*one.sources, *(given.source for given in one.inputs))}
    named |= {reason.source for reason in (*told.reasons, *told.changed)}
    known = all_sources()
    return msgspec.structs.replace(told, sources={
        key: f"{known[key].citation} {known[key].doi}".strip() for key in sorted(named) if key in known
    })


def _about(told: Why, quantity: str) -> Why:
    return msgspec.structs.replace(
        told,
        reasons=[reason for reason in told.reasons if reason.quantity == quantity],
        changed=[reason for reason in told.changed if reason.quantity == quantity],
        flags=[flag for flag in told.flags if flag.quantity == quantity],
        explained=[one for one in told.explained if one.quantity == quantity],
    )
