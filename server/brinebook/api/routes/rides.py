"""A rider's own recording of a stage: read, cut to the race, summed up and kept as a fact."""

from litestar import Response, post
from litestar.params import FromPath, FromQuery, RawBody
from msgspec import Struct
from msgspec.structs import replace

from brinebook.access.devices import SignedIn
from brinebook.access.disclosure import may_write_fact
from brinebook.access.errors import NotYours
from brinebook.api.answers import answer
from brinebook.api.handed import Asked, Running
from brinebook.api.services import Services
from brinebook.engine.stage.ride import ride_violations
from brinebook.files.ride import LIMIT_BYTES, read_ride
from brinebook.planning.ridden import RecordedRide, file_flags, ridden_body
from brinebook.records.derived import Flag
from brinebook.records.facts import Ridden
from brinebook.sync.edit import stage
from brinebook.sync.errors import BadRecord
from brinebook.sync.push import state


class RideRead(Struct, frozen=True, kw_only=True):
    """What was read out of a ride's file; ``fact_id`` is empty when it was only looked at."""

    fact_id: str
    ridden: Ridden
    flags: list[Flag]


@post(
    "/api/stages/{stage_id:str}/rides/{rider_id:str}/preview", status_code=200, sync_to_thread=True,
    request_max_body_size=LIMIT_BYTES,
)
def preview_ride(  # noqa: PLR0913 - path, file and the two ends of the race
    *, request: Asked, stage_id: FromPath[str], rider_id: FromPath[str], body: RawBody, services: Running,
    from_ms: FromQuery[int | None] = None, to_ms: FromQuery[int | None] = None,
) -> Response[bytes]:
    """Say what a ride in FIT, TCX or GPX holds, and keep nothing: its two ends can then be set."""
    return answer(_read(services, request.user, (stage_id, rider_id), body, (from_ms, to_ms)))


@post(
    "/api/stages/{stage_id:str}/rides/{rider_id:str}", status_code=200, sync_to_thread=True,
    request_max_body_size=LIMIT_BYTES,
)
def post_ride(  # noqa: PLR0913 - path, file and the two ends of the race
    *, request: Asked, stage_id: FromPath[str], rider_id: FromPath[str], body: RawBody, services: Running,
    from_ms: FromQuery[int | None] = None, to_ms: FromQuery[int | None] = None,
) -> Response[bytes]:
    """Read a ride and keep it as a fact: power and time as ridden take the place of those predicted."""
    who = request.user
    found = _read(services, who, (stage_id, rider_id), body, (from_ms, to_ms))
    verdict, changed = state(
        services.repository, who, kind="ridden", subject_id=rider_id, stage_id=stage_id, body=found.ridden
    )
    if verdict.status != "ok":
        raise BadRecord(verdict.field, rider_id, verdict.limit)
    services.changed(who.team_id, changed)
    return answer(replace(found, fact_id=verdict.id))


def _read(
    services: Services, who: SignedIn, of: tuple[str, str], body: bytes, between_ms: tuple[int | None, int | None]
) -> RideRead:
    stage_id, rider_id = of
    if not may_write_fact(who.member, "ridden", rider_id):
        raise NotYours("ridden", rider_id)
    found, file = stage(services.repository, who.team_id, stage_id), read_ride(body)
    recorded = RecordedRide(file.kind, file.records, file.device_work_kj)
    ridden = ridden_body(found, rider_id, recorded, from_ms=between_ms[0], to_ms=between_ms[1])
    said = ride_violations(missing_power_frac=ridden.missing_power_frac, work_ratio_frac=ridden.work_ratio_frac)
    return RideRead(fact_id="", ridden=ridden, flags=file_flags(said))
