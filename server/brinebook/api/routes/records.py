"""Edited records: one PUT per type, each with the version it was edited from."""

from typing import TypeVar

from litestar import Response, put
from litestar.params import FromPath, RawBody

from brinebook.access.devices import SignedIn
from brinebook.api.answers import answer
from brinebook.api.auth import must_edit
from brinebook.api.handed import Asked, Running
from brinebook.api.services import Services
from brinebook.planning.books import GOALS_ID, KIT_ID
from brinebook.planning.recompute import Changed
from brinebook.records.edited import Drink, Edited, Food, Kit, PlanGoals, Rider, RiderBody, RiderPalate, Stage, Supply
from brinebook.storage.mapping import TYPE_NAMES
from brinebook.sync.decode import decoded
from brinebook.sync.edit import edit, must_be_the_doctors
from brinebook.sync.errors import BadRecord

E = TypeVar("E", bound=Edited)

def changed_by(record: Edited) -> Changed:
    """Say what an edit changed."""
    is_rider = isinstance(record, Rider | RiderBody | RiderPalate)
    return Changed(
        subject_ids=frozenset({record.id} if is_rider else ()),
        kinds=frozenset(),
        stage_ids=frozenset({record.id} if isinstance(record, Stage) else ()),
        edited_types=frozenset({TYPE_NAMES[type(record)]}),
    )


def keep(services: Services, who: SignedIn, id_: str, record: E) -> E:
    """Keep an edit by somebody who may, and tell what it changed."""
    must_edit(who, record)
    stored = edit(services.repository, who.team_id, id_, record)
    services.changed(who.team_id, changed_by(stored))
    return stored


@put("/api/riders/{record_id:str}", sync_to_thread=True)
def put_rider(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep a rider."""
    return answer(keep(services, request.user, record_id, decoded(body, Rider)))


@put("/api/rider-bodies/{record_id:str}", sync_to_thread=True)
def put_rider_body(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep a rider's body facts; what needs a physician is the doctor's to give."""
    record = decoded(body, RiderBody)
    must_be_the_doctors(services.repository, request.user, record)
    return answer(keep(services, request.user, record_id, record))


@put("/api/drinks/{record_id:str}", sync_to_thread=True)
def put_drink(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep a drink."""
    return answer(keep(services, request.user, record_id, decoded(body, Drink)))


@put("/api/foods/{record_id:str}", sync_to_thread=True)
def put_food(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep a food."""
    return answer(keep(services, request.user, record_id, decoded(body, Food)))


@put("/api/stages/{record_id:str}", sync_to_thread=True)
def put_stage(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep a stage."""
    return answer(keep(services, request.user, record_id, decoded(body, Stage)))


@put("/api/supplies/{record_id:str}", sync_to_thread=True)
def put_supply(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep a powder or a salt."""
    return answer(keep(services, request.user, record_id, decoded(body, Supply)))


@put("/api/rider-palates/{record_id:str}", sync_to_thread=True)
def put_palate(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep what a rider likes and cannot take; he may say so himself."""
    return answer(keep(services, request.user, record_id, decoded(body, RiderPalate)))


@put("/api/kits/{record_id:str}", sync_to_thread=True)
def put_kit(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep the buckets, the label sheets and the spares; those who mix may."""
    if record_id != KIT_ID:
        raise BadRecord("id", record_id, f"{KIT_ID}, since a team has one")
    return answer(keep(services, request.user, record_id, decoded(body, Kit)))


@put("/api/plan-goals/{record_id:str}", sync_to_thread=True)
def put_goals(request: Asked, record_id: FromPath[str], body: RawBody, services: Running) -> Response[bytes]:
    """Keep how the team weighs the goals of a plan."""
    if record_id != GOALS_ID:
        raise BadRecord("id", record_id, f"{GOALS_ID}, since a team has one")
    return answer(keep(services, request.user, record_id, decoded(body, PlanGoals)))
