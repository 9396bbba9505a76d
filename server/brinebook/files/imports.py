"""Data in: rosters, weigh-ins and drinks as CSV, read whole or refused by line, field, value and limit."""

import csv
import io
from collections.abc import Callable, Iterator
from typing import Any, NoReturn

import msgspec

from brinebook.files.errors import FileProblem
from brinebook.records.edited import Drink, Rider, RiderBody
from brinebook.records.facts import Weighed

LIMIT_CHARACTERS = 500_000
LIMIT_ROWS = 2_000
SHOWN_CHARACTERS = 60
Row = dict[str, str]


def read_table(what: str, text: str) -> list[dict[str, Any]]:
    """
    Read a table of one kind: ``roster``, ``weigh-ins`` or ``drinks``.

    Returns what a screen shows and then keeps: records for a roster or drinks, bodies of facts for weigh-ins; nothing
    is stored here. Headings are the names of the fields; commas, semicolons and tabs separate, decimal commas are
    understood with the latter two.
    """
    if what not in READERS:
        raise FileProblem("what", what[:SHOWN_CHARACTERS], " or ".join(sorted(READERS)))
    needed, read = READERS[what]
    return [read(row, line) for line, row in _rows(text, needed)]


def _rows(text: str, needed: tuple[str, ...]) -> Iterator[tuple[int, Row]]:
    if len(text) > LIMIT_CHARACTERS:
        raise FileProblem("file", f"{len(text)} characters", f"at most {LIMIT_CHARACTERS} characters")
    bare = text.lstrip("\ufeff")
    delimiter = max(";\t,", key=bare.split("\n", 1)[0].count)
    rows = _cells(bare, delimiter)
    columns = [column.strip().lower() for column in next(rows, (0, []))[1]]
    for column in needed:
        if column not in columns:
            raise FileProblem(column, "missing", "a column of this name")
    n = 0
    for line, cells in rows:
        if not any(cell.strip() for cell in cells):
            continue
        n += 1
        if n > LIMIT_ROWS:
            raise FileProblem("rows", f"more than {LIMIT_ROWS}", f"at most {LIMIT_ROWS} rows")
        named = {column: cell.strip() for column, cell in zip(columns, cells, strict=False)}
        yield line, named if delimiter == "," else {key: _pointed(cell) for key, cell in named.items()}
    if n == 0:
        raise FileProblem("rows", "0", "at least one row under the heading")


def _cells(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Read row by row, each with its line; what the reader cannot make sense of is refused by that line."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise FileProblem("row", str(error)[:SHOWN_CHARACTERS], "cells of a table", reader.line_num) from error
        yield reader.line_num, cells


def _pointed(cell: str) -> str:
    """Turn a decimal comma into a point, in cells that are a number and nothing else."""
    bare = cell.replace(",", ".", 1)
    return bare if "," in cell and bare.replace(".", "", 1).replace("-", "", 1).isdigit() else cell


def _record(row: Row, line: int, type_: type[msgspec.Struct], names: dict[str, str]) -> dict[str, Any]:
    """Convert cells to a record of one type; a cell that is empty is left to the record's default."""
    plain = {field: row[column] for field, column in names.items() if row.get(column, "") != ""}
    try:
        made = msgspec.convert(plain, type_, strict=False)
    except msgspec.ValidationError as error:
        _refuse(str(error), plain, names, line)
    told: dict[str, Any] = msgspec.to_builtins(made)
    return told


def _refuse(said: str, plain: dict[str, str], names: dict[str, str], line: int) -> NoReturn:
    """Name the column that msgspec's path or sentence is about."""
    named = next((one for one in names if f"`{one}`" in said), "")
    field = said.rsplit("$.", 1)[-1].rstrip("`") if "$." in said else named
    value = plain.get(field, "missing")[:SHOWN_CHARACTERS]
    raise FileProblem(names.get(field, field), value, said.split(" - at", maxsplit=1)[0], line)


def _roster(row: Row, line: int) -> dict[str, Any]:
    id_ = f"r-{row.get('number', '')}"
    rider = _record({**row, "id": id_}, line, Rider, {
        "id": "id", "name": "name", "race_number": "number", "race_role": "role",
    })
    body = _record({**row, "id": id_}, line, RiderBody, {
        "id": "id", "mass_kg": "mass_kg", "height_m": "height_m", "age_years": "age_years", "sex": "sex",
    })
    return {"rider": rider, "body": body}


def _weigh_in(row: Row, line: int) -> dict[str, Any]:
    body = _record(row, line, Weighed, {
        name: name for name in ("moment", "mass_kg", "food_kg", "urine_l", "energy_kcal")
    })
    numbers = {name: row[name] for name in ("stage", "number")}
    for name, value in numbers.items():
        if not value.isdigit():
            raise FileProblem(name, value[:SHOWN_CHARACTERS] or "missing", "a whole number", line)
    return {"stage": int(numbers["stage"]), "number": int(numbers["number"]), "body": body}


def _drink(row: Row, line: int) -> dict[str, Any]:
    names = {name: name for name in (
        "name", "short_name", "kind", "bottle_l", "sodium_mg_per_l", "carbohydrate_g_per_l", "osmolality_mosm_per_kg",
    )}
    short = row.get("short_name", "").lower()
    id_ = "d-" + "".join(sign if sign.isalnum() and sign.isascii() else "-" for sign in short)
    return _record({**row, "id": id_}, line, Drink, {"id": "id", **names})


READERS: dict[str, tuple[tuple[str, ...], Callable[[Row, int], dict[str, Any]]]] = {
    "roster": (("number", "name", "mass_kg", "height_m", "age_years", "sex"), _roster),
    "weigh-ins": (("stage", "number", "moment", "mass_kg"), _weigh_in),
    "drinks": (("name", "short_name", "sodium_mg_per_l"), _drink),
}
