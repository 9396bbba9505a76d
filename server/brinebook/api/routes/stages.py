"""What is done to a stage: a course and a forecast read in, plans computed and published."""


import msgspec
from litestar import Response, post
from litestar.params import FromPath, FromQuery, RawBody
from msgspec import Struct

from brinebook.api.answers import answer
from brinebook.api.auth import must_plan
from brinebook.api.handed import Asked, Running
from brinebook.api.routes.records import keep
from brinebook.files.forecast_table import read_forecast
from brinebook.files.gpx import read_gpx
from brinebook.planning.recompute import plan_stage, publish_stage
from brinebook.push.sender import Sentence
from brinebook.sync.edit import stage
from brinebook.sync.errors import BadRecord


class Published(Struct, frozen=True, kw_only=True):
    """Whose plans were published."""

    published: list[str]


@post("/api/stages/{stage_id:str}/course", status_code=200, sync_to_thread=True)
def post_course(
    request: Asked, stage_id: FromPath[str], body: RawBody, services: Running, km0_km: FromQuery[float | None] = None,
) -> Response[bytes]:
    """Read a course file into a stage."""
    must_plan(request.user)
    found = stage(services.repository, request.user.team_id, stage_id)
    km0 = found.km0_km if km0_km is None else km0_km
    changed = msgspec.structs.replace(found, course=read_gpx(body), km0_km=km0)
    return answer(keep(services, request.user, stage_id, changed))


@post("/api/stages/{stage_id:str}/forecast", status_code=200, sync_to_thread=True)
def post_forecast(
    request: Asked, stage_id: FromPath[str], body: RawBody, services: Running, time_zone: FromQuery[str | None] = None,
) -> Response[bytes]:
    """Read a weather table into a stage."""
    must_plan(request.user)
    found = stage(services.repository, request.user.team_id, stage_id)
    rows = read_forecast(_text(body), time_zone=time_zone)
    return answer(keep(services, request.user, stage_id, msgspec.structs.replace(found, forecast=rows)))


def _text(body: bytes) -> str:
    try:
        return body.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadRecord("body", "", "text in UTF-8") from problem


@post("/api/stages/{stage_id:str}/plan", status_code=200, sync_to_thread=True)
def post_plan(request: Asked, stage_id: FromPath[str], services: Running) -> Response[bytes]:
    """Compute a stage's forecasts and plans now."""
    who = request.user
    must_plan(who)
    stage(services.repository, who.team_id, stage_id)
    services.recompute.exclusive(lambda: plan_stage(services.repository, who.team_id, stage_id))
    services.live.tell(who.team_id, services.repository.head(who.team_id))
    return answer({"planned": stage_id})


@post("/api/stages/{stage_id:str}/publish", status_code=200, sync_to_thread=True)
def post_publish(request: Asked, stage_id: FromPath[str], services: Running) -> Response[bytes]:
    """Publish a stage's plans and wake the phones concerned."""
    who = request.user
    must_plan(who)
    stage(services.repository, who.team_id, stage_id)
    rider_ids = services.recompute.exclusive(lambda: publish_stage(services.repository, who.team_id, stage_id))
    services.wakeups.wake_riders(who.team_id, rider_ids, Sentence.PLAN)
    services.live.tell(who.team_id, services.repository.head(who.team_id))
    return answer(Published(published=rider_ids))
