"""The use case of the printer: find the stored sheet, lay it out, print it."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TypeVar
from zoneinfo import ZoneInfo

import msgspec
import segno

from brinebook.access.disclosure import eyes_of, may_read_document
from brinebook.planning.books import KIT_ID, seen_records
from brinebook.records.derived import EveningDrink, PrepSheet, RiderProfile, Settlement, StagePlan
from brinebook.records.edited import Drink, Edited, Food, Kit, Member, Rider, Stage
from brinebook.sheets.cards import Card, Names, cards_html
from brinebook.sheets.errors import NothingToPrint
from brinebook.sheets.geometry import LabelStock, Nudge, label_stocks
from brinebook.sheets.labels import LabelPage, grid_html, labels_html
from brinebook.sheets.markup import PAPERS, Paper
from brinebook.sheets.pdf import pdf
from brinebook.sheets.prep import PrepPage, prep_html
from brinebook.sheets.report import ReportRow, report_html
from brinebook.storage.repository import Repository
from brinebook.words import LANGUAGES

E = TypeVar("E", bound=Edited)
D = TypeVar("D", bound=msgspec.Struct)
LINK_MM = 22.0
MOST_NUDGE_MM = 2.0


@dataclass(frozen=True)
class Wanted:
    """How somebody wants it printed; what is left open comes from the team's kit."""

    language: str = "en"
    paper: str = "a4"
    bucket_l: float | None = None
    stock: str | None = None
    right_mm: float | None = None
    down_mm: float | None = None


class Printer:
    """Prints for one person of one team: what he may not see is as absent as what is not there."""

    def __init__(self, repository: Repository, team_id: str, member: Member, wanted: Wanted) -> None:
        self._repository, self._team_id, self._member = repository, team_id, member
        self._wanted = wanted
        self._paper = Paper(_one_of("language", wanted.language, LANGUAGES))
        self._size = _one_of("paper", wanted.paper, tuple(PAPERS))

    def prep(self, stage_id: str, *, printed_at_ms: int, link: str) -> bytes:
        """Print a stage's prep sheet."""
        sheet, stage = self._sheet(stage_id), self._stage(stage_id)
        bucket_l = self._kit().buckets_l[0] if self._wanted.bucket_l is None else self._wanted.bucket_l
        if not 0.5 <= bucket_l <= 100.0:  # noqa: PLR2004 - litres
            raise NothingToPrint("bucket_l", f"{bucket_l:g}", "between 0.5 and 100 L")
        printed = datetime.fromtimestamp(printed_at_ms / 1000.0, UTC).astimezone(ZoneInfo(stage.time_zone))
        return pdf(prep_html(PrepPage(
            sheet=sheet, stage=stage, drinks=self._by_id(Drink), foods=self._by_id(Food), riders=self._by_id(Rider),
            bucket_l=bucket_l, printed=printed, paper_size=self._size, link_svg=_link_svg(link),
        ), self._paper))

    def labels(self, stage_id: str) -> bytes:
        """Print a stage's labels."""
        return pdf(labels_html(LabelPage(
            sheet=self._sheet(stage_id), stock=self._stock(), nudge=self._nudge(), drinks=self._by_id(Drink),
            riders=self._by_id(Rider),
        ), self._paper))

    def grid(self) -> bytes:
        """Print the outlines of a label sheet."""
        return pdf(grid_html(self._stock(), self._nudge(), self._paper))

    def cards(self, stage_id: str) -> bytes:
        """Print the cards of the riders whose profile this person may see."""
        self._stage(stage_id)
        cards = []
        for rider in sorted(self._by_id(Rider).values(), key=lambda rider: rider.race_number):
            plan = self._document(f"stage_plan:{rider.id}:{stage_id}", "stage_plan", rider.id, StagePlan)
            profile = self._document(f"profile:{rider.id}", "profile", rider.id, RiderProfile)
            if plan is not None and profile is not None and plan.steps:
                cards.append(Card(rider, plan, profile.pocket_rule))
        if not cards:
            raise NothingToPrint("stage_id", stage_id, "a plan of a rider whose profile you may see")
        return pdf(cards_html(cards, names=Names(self._by_id(Drink), self._by_id(Food)), paper=self._paper,
                              paper_size=self._size))

    def report(self, stage_id: str, *, printed_at_ms: int) -> bytes:
        """Print the evening report of a stage, of the riders whose settlements this person may see."""
        stage = self._stage(stage_id)
        riders = sorted(self._by_id(Rider).values(), key=lambda rider: rider.race_number)
        rows = [
            ReportRow(
                rider, self._document(f"settlement:{rider.id}:{stage_id}", "settlement", rider.id, Settlement),
                self._document(f"evening_drink:{rider.id}:{stage_id}", "evening_drink", rider.id, EveningDrink),
            )
            for rider in riders if may_read_document(self._member, "settlement", rider.id)
        ]
        if not any(row.settlement is not None for row in rows):
            raise NothingToPrint("stage_id", stage_id, "a stage with weighings, and a role that may see them")
        printed = datetime.fromtimestamp(printed_at_ms / 1000.0, UTC).astimezone(ZoneInfo(stage.time_zone))
        return pdf(report_html(rows, stage=stage, printed=printed, paper=self._paper, paper_size=self._size))

    def _sheet(self, stage_id: str) -> PrepSheet:
        found = self._document(f"prep_sheet:{stage_id}", "prep_sheet", self._team_id, PrepSheet)
        if found is None:
            raise NothingToPrint("stage_id", stage_id, "a stage with plans, and a role that packs for it")
        return found

    def _stage(self, stage_id: str) -> Stage:
        stage = self._repository.edited(self._team_id, Stage, stage_id)
        if stage is None:
            raise NothingToPrint("stage_id", stage_id, "the id of a stage")
        return stage

    def _document(self, id_: str, type_: str, subject_id: str, struct: type[D]) -> D | None:
        if not may_read_document(self._member, type_, subject_id):
            return None
        with self._repository.snapshot(eyes_of(self._team_id, self._member)):
            found = self._repository.document(self._team_id, id_)
        return None if found is None or found.body is None else msgspec.json.decode(found.body, type=struct)

    def _by_id(self, type_: type[E]) -> dict[str, E]:
        with self._repository.snapshot(eyes_of(self._team_id, self._member)):
            return {one.id: one for one in seen_records(self._repository, self._team_id, type_)}

    def _kit(self) -> Kit:
        return self._repository.edited(self._team_id, Kit, KIT_ID) or Kit(id=KIT_ID)

    def _stock(self) -> LabelStock:
        stocks = label_stocks()
        wanted = self._kit().label_stock if self._wanted.stock is None else self._wanted.stock
        return stocks[_one_of("stock", wanted, tuple(stocks))]

    def _nudge(self) -> Nudge:
        kit = self._kit()
        right, down = self._wanted.right_mm, self._wanted.down_mm
        return Nudge(
            _within("right_mm", kit.nudge_right_mm if right is None else right),
            _within("down_mm", kit.nudge_down_mm if down is None else down),
        )


def _within(field: str, value_mm: float) -> float:
    if not abs(value_mm) <= MOST_NUDGE_MM:
        raise NothingToPrint(field, f"{value_mm:g}", f"between -{MOST_NUDGE_MM:g} and {MOST_NUDGE_MM:g} mm")
    return value_mm


def _one_of(field: str, value: str, allowed: tuple[str, ...]) -> str:
    if value not in allowed:
        raise NothingToPrint(field, value[:40], f"one of {', '.join(allowed)}")
    return value


def _link_svg(link: str) -> str:
    """Draw the way back to the live sheet; its path has no name and no health value."""
    code = segno.make_qr(link, error="m")
    inner = str(code.svg_inline(border=4, omitsize=True))
    return f'<div style="width:{LINK_MM}mm;height:{LINK_MM}mm">{inner}</div>'
