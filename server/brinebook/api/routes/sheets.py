"""Paper: prep sheet, labels, test grid and riders' cards as PDF."""

from litestar import Response, get
from litestar.params import FromPath, FromQuery

from brinebook import clock
from brinebook.access import ledger
from brinebook.access.passkeys import must_show
from brinebook.access.roles import BODY_READERS
from brinebook.api.handed import Asked, Running, origin_of
from brinebook.records.edited import Rider
from brinebook.sheets.printing import Printer, Wanted

PDF = "application/pdf"


def _printed(body: bytes, name: str) -> Response[bytes]:
    return Response(body, media_type=PDF, headers={"content-disposition": f'inline; filename="{name}.pdf"'})


def _printer(request: Asked, services: Running, wanted: Wanted) -> Printer:
    return Printer(services.repository, request.user.team_id, request.user.member, wanted)


def _note_printed(request: Asked, services: Running, what: str) -> None:
    """Note in the ledger whose bodies go to paper, before they do."""
    who = request.user
    must_show(services.repository, who)
    ledger.note(services.repository, who.team_id, [
        ledger.did(who, "printed", about=rider.id, what=what)
        for rider in services.repository.all_edited(who.team_id, Rider)
        if rider.id != who.member.rider_id and who.member.role in BODY_READERS
    ])


@get("/api/stages/{stage_id:str}/sheets/prep", sync_to_thread=True)
def get_prep(
    request: Asked, stage_id: FromPath[str], services: Running, language: FromQuery[str] = "en",
    paper: FromQuery[str] = "a4", bucket_l: FromQuery[float | None] = None,
) -> Response[bytes]:
    """Print a stage's prep sheet."""
    printer = _printer(request, services, Wanted(language=language, paper=paper, bucket_l=bucket_l))
    link = f"{origin_of(request, services)}/#/coolbox/{stage_id}"
    return _printed(printer.prep(stage_id, printed_at_ms=clock.now_ms(), link=link), f"prep-{stage_id}")


@get("/api/stages/{stage_id:str}/sheets/labels", sync_to_thread=True)
def get_labels(
    request: Asked, stage_id: FromPath[str], services: Running, language: FromQuery[str] = "en",
    stock: FromQuery[str | None] = None,
) -> Response[bytes]:
    """Print a stage's labels, moved as the team's kit says."""
    printer = _printer(request, services, Wanted(language=language, stock=stock))
    return _printed(printer.labels(stage_id), f"labels-{stage_id}")


@get("/api/stages/{stage_id:str}/sheets/cards", sync_to_thread=True)
def get_cards(
    request: Asked, stage_id: FromPath[str], services: Running, language: FromQuery[str] = "en",
    paper: FromQuery[str] = "a4",
) -> Response[bytes]:
    """Print the riders' cards; they carry a rule made from sweat, so only for those who may see it."""
    printer = _printer(request, services, Wanted(language=language, paper=paper))
    body = printer.cards(stage_id)
    _note_printed(request, services, "cards")
    return _printed(body, f"cards-{stage_id}")


@get("/api/sheets/grid", sync_to_thread=True)
def get_grid(
    request: Asked, services: Running, stock: FromQuery[str | None] = None,
    right_mm: FromQuery[float | None] = None, down_mm: FromQuery[float | None] = None,
) -> Response[bytes]:
    """Print the outlines of a label sheet, to hold against a real one."""
    wanted = Wanted(stock=stock, right_mm=right_mm, down_mm=down_mm)
    return _printed(_printer(request, services, wanted).grid(), "test-grid")


@get("/api/stages/{stage_id:str}/sheets/report", sync_to_thread=True)
def get_report(
    request: Asked, stage_id: FromPath[str], services: Running, language: FromQuery[str] = "en",
    paper: FromQuery[str] = "a4",
) -> Response[bytes]:
    """Print the evening report of a stage, for those who may see the body."""
    printer = _printer(request, services, Wanted(language=language, paper=paper))
    body = printer.report(stage_id, printed_at_ms=clock.now_ms())
    _note_printed(request, services, "report")
    return _printed(body, f"report-{stage_id}")
