"""Data out: the book as tables in CSV, XLSX, Parquet or JSON. Units stand in headings; text is never a formula."""

import csv
import io
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
import pyarrow as pa
import pyarrow.parquet as pq
import xlsxwriter

from brinebook import __version__
from brinebook.planning.books import Books
from brinebook.records.derived import Settlement, StagePlan
from brinebook.records.edited import Stage

Cell = str | float | int | bool | None
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
SHEET_NAME_CHARACTERS = 31


@dataclass(frozen=True)
class Table:
    """One table: a name, headings with units, rows of plain cells."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def settled_table(books: Books) -> Table:
    """Return one row per rider and stage that anything was noted on."""
    columns = (
        "stage", "stage_name", "started_at", "rider_number", "rider", "state", "mass_before_kg", "mass_after_kg",
        "food_kg", "urine_l", "handed_up_l", "came_back_l", "poured_l", "lost_l", "noted_drunk_l", "proposed_drunk_l",
        "agreed_drunk_l", "sweat_loss_l", "predicted_q10_l", "predicted_q50_l", "predicted_q90_l",
        "body_mass_change_frac", "sodium_drunk_mg", "sodium_lost_mg", "deficit_l", "lane", "factor_before",
        "factor_after",
    )
    stages = {stage.id: stage for stage in books.stages}
    found = sorted(_decoded(books, "settlement", Settlement), key=lambda one: (one.stage_number, one.rider_id))
    return Table("settled", columns, tuple(
        (
            one.stage_number, stages[one.stage_id].name, _wall(stages[one.stage_id].start_at_ms, stages[one.stage_id]),
            books.riders[one.rider_id].race_number, books.riders[one.rider_id].name,
            *(getattr(one, column) for column in columns[5:]),
        )
        for one in found if one.stage_id in stages and one.rider_id in books.riders
    ))


def facts_table(books: Books) -> Table:
    """Return one row per live fact, with its body as JSON beside what every fact has."""
    columns = ("id", "kind", "at", "stage", "rider_number", "rider", "noted_by", "body")
    stages = {stage.id: stage.number for stage in books.stages}
    return Table("facts", columns, tuple(
        (
            fact.event.id, fact.event.kind, _offset(fact.event.at_ms, fact.event.tz_min),
            stages.get(fact.event.stage_id or ""),
            books.riders[fact.event.subject_id].race_number if fact.event.subject_id in books.riders else None,
            books.riders[fact.event.subject_id].name if fact.event.subject_id in books.riders else "",
            fact.event.by, bytes(fact.event.body).decode(),
        )
        for fact in sorted(books.facts, key=lambda fact: (fact.event.at_ms, fact.event.id))
    ))


def plans_table(books: Books) -> Table:
    """Return one row per rider, stage and feed point of the plans on file."""
    columns = (
        "stage", "rider_number", "rider", "status", "plan_version", "feed", "km", "until_km", "bottles", "foods",
        "drink_l",
    )
    found = sorted(_decoded(books, "stage_plan", StagePlan), key=lambda one: (one.stage_number, one.rider_id))
    names = {drink.id: drink.name for drink in books.drinks} | {food.id: food.name for food in books.foods.values()}

    def counted(counts: dict[str, int]) -> str:
        return ", ".join(f"{n} x {names.get(id_, id_)}" for id_, n in sorted(counts.items()) if n)

    return Table("plans", columns, tuple(
        (
            plan.stage_number, books.riders[plan.rider_id].race_number, books.riders[plan.rider_id].name, plan.status,
            plan.plan_version, step.feed_name, step.km, step.until_km, counted(step.bottles), counted(step.foods),
            step.drink_l,
        )
        for plan in found if plan.rider_id in books.riders for step in plan.steps
    ))


TABLES: dict[str, Callable[[Books], Table]] = {"settled": settled_table, "facts": facts_table, "plans": plans_table}


def _decoded(books: Books, kind: str, type_: type[Any]) -> Iterable[Any]:
    return (
        msgspec.json.decode(one.body, type=type_) for _, one in sorted(books.stored.items())
        if one.type == kind and one.body is not None
    )


def _wall(at_ms: int, stage: Stage) -> str:
    return datetime.fromtimestamp(at_ms / 1000, tz=UTC).astimezone(ZoneInfo(stage.time_zone)).isoformat()


def _offset(at_ms: int, tz_min: int) -> str:
    return datetime.fromtimestamp(at_ms / 1000, tz=UTC).astimezone(timezone(timedelta(minutes=tz_min))).isoformat()


def _harmless(cell: Cell) -> Cell:
    """Keep a text from being read as a formula by a spreadsheet; figures stay figures."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA_STARTS) else cell


def to_csv(table: Table) -> bytes:
    """Write one table as RFC 4180 CSV in UTF-8."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(table.columns)
    for row in table.rows:
        writer.writerow(["" if cell is None else _harmless(cell) for cell in row])
    return out.getvalue().encode()


def to_xlsx(tables: Iterable[Table]) -> bytes:
    """Write tables as sheets of one workbook."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}) as book:
        bold = book.add_format({"bold": True})
        for table in tables:
            sheet = book.add_worksheet(table.name[:SHEET_NAME_CHARACTERS])
            sheet.freeze_panes(1, 0)
            sheet.write_row(0, 0, table.columns, bold)
            for n, row in enumerate(table.rows, start=1):
                for column, cell in enumerate(row):
                    _write(sheet, (n, column), cell)
    return out.getvalue()


def _write(sheet: Any, place: tuple[int, int], cell: Cell) -> None:
    if isinstance(cell, str):
        sheet.write_string(*place, str(_harmless(cell)))
    elif isinstance(cell, bool):
        sheet.write_boolean(*place, cell)
    elif cell is not None:
        sheet.write_number(*place, cell)


def to_parquet(table: Table) -> bytes:
    """Write one table as Parquet; a column without any figure stays a column of text."""
    columns = list(zip(*table.rows, strict=True)) if table.rows else [()] * len(table.columns)
    arrays = [_array(column) for column in columns]
    out = io.BytesIO()
    pq.write_table(pa.table(dict(zip(table.columns, arrays, strict=True))), out)
    return out.getvalue()


def _array(column: tuple[Cell, ...]) -> Any:
    known = {type(cell) for cell in column if cell is not None}
    if known <= {int, float} and known:
        return pa.array([None if cell is None else float(cell) for cell in column], pa.float64())
    return pa.array([None if cell is None else str(cell) for cell in column], pa.string())


def to_json(tables: Iterable[Table], *, made_at_ms: int, purpose: str) -> bytes:
    """Write tables as one JSON object that says what made it, when and what for."""
    return msgspec.json.encode({
        "made_by": f"brinebook {__version__}", "made_at": _offset(made_at_ms, 0), "purpose": purpose,
        "tables": {table.name: [dict(zip(table.columns, row, strict=True)) for row in table.rows] for table in tables},
    })
