"""What is done to a stage: a course and a forecast read in, plans computed and published."""


from typing import Annotated

import msgspec
from litestar import Response, post
from litestar.params import FromPath, FromQuery, RawBody
from msgspec import Meta, Struct

from brinebook.api.answers import answer
from brinebook.api.auth import must_plan
from brinebook.api.handed import Asked, Running
from brinebook.api.routes.records import keep
from brinebook.files.forecast_table import read_forecast
from brinebook.files.gpx import read_gpx
from brinebook.files.profile_table import made_course, read_profile
from brinebook.planning.recompute import plan_stage, publish_stage
from brinebook.push.sender import Sentence
from brinebook.records.common import LongitudeDeg
from brinebook.sync.decode import decoded
from brinebook.sync.edit import stage
from brinebook.sync.errors import BadRecord


class Planned(Struct, frozen=True, kw_only=True):
    """Which stage was planned."""

    planned: str


class Published(Struct, frozen=True, kw_only=True):
    """Whose plans were published."""

    published: list[str]


@post("/api/stages/{stage_id:str}/course", status_code=200, sync_to_thread=True)
def post_course(  # noqa: PLR0913 - the file, and what it may lack
    *, request: Asked, stage_id: FromPath[str], body: RawBody, services: Running,
    km0_km: FromQuery[float | None] = None, latitude_deg: FromQuery[float | None] = None,
    longitude_deg: FromQuery[float | None] = None,
) -> Response[bytes]:
    """Read a course into a stage: a GPX file, or a table of kilometres and heights."""
    must_plan(request.user)
    found = stage(services.repository, request.user.team_id, stage_id)
    km0 = found.km0_km if km0_km is None else km0_km
    is_gpx = body.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<")
    course = read_gpx(body) if is_gpx else read_profile(
        _text(body), latitude_deg=latitude_deg, longitude_deg=longitude_deg
    )
    changed = msgspec.structs.replace(found, course=course, km0_km=km0)
    return answer(keep(services, request.user, stage_id, changed))


class MadeCourse(Struct, frozen=True, kw_only=True):
    """A course nobody has a file of."""

    length_km: Annotated[float, Meta(ge=1.0, le=400.0)]
    gain_m: Annotated[float, Meta(ge=0.0, le=9000.0)]
    latitude_deg: Annotated[float, Meta(ge=-80.0, le=80.0)]
    longitude_deg: LongitudeDeg


@post("/api/stages/{stage_id:str}/made-course", status_code=200, sync_to_thread=True)
def post_made_course(
    request: Asked, stage_id: FromPath[str], body: RawBody, services: Running,
) -> Response[bytes]:
    """Make up a stage's course from its kind, length and climbing."""
    must_plan(request.user)
    found, wanted = stage(services.repository, request.user.team_id, stage_id), decoded(body, MadeCourse)
    course = made_course(
        found.kind, length_km=wanted.length_km, gain_m=wanted.gain_m, latitude_deg=wanted.latitude_deg,
        longitude_deg=wanted.longitude_deg,
    )
    return answer(keep(services, request.user, stage_id, msgspec.structs.replace(found, course=course, km0_km=0.0)))


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
    return answer(Planned(planned=stage_id))


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
