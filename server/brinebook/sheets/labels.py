"""Bottle labels: a code, a big number, and what is in the bottle; nobody's name. And a grid to try a printer with."""

from dataclasses import dataclass

from brinebook.records.derived import PrepSheet, SheetBottle, SheetPlace
from brinebook.records.edited import Drink, Rider
from brinebook.sheets.geometry import LabelStock, Nudge
from brinebook.sheets.markup import FONTS, Paper, code_svg, page, text

WIDE_MM, NARROW_MM, LOW_MM, WIDE_TYPE_MM = 80.0, 65.0, 30.0, 38.1


@dataclass(frozen=True)
class LabelPage:
    """What a stage's labels are printed from."""

    sheet: PrepSheet
    stock: LabelStock
    nudge: Nudge
    drinks: dict[str, Drink]
    riders: dict[str, Rider]


def labels_html(what: LabelPage, paper: Paper) -> str:
    """Lay a stage's labels out, in order of the bottles' numbers."""
    every = [(bottle, place) for place in what.sheet.places for bottle in place.bottles]
    n_per_page = what.stock.n_per_page
    pages = [every[first: first + n_per_page] for first in range(0, len(every), n_per_page)]
    body = "".join(
        '<section class="sheet">'
        + "".join(_label(what, bottle, place, what.stock.corner_mm(n, what.nudge), paper)
                  for n, (bottle, place) in enumerate(labels))
        + "</section>"
        for labels in pages
    )
    title = paper.say("labels_title", {"n": str(what.sheet.stage_number), "version": str(what.sheet.sheet_version)})
    return page(title, paper.language, _style(what.stock), body)


def grid_html(stock: LabelStock, nudge: Nudge, paper: Paper) -> str:
    """Draw the outline of every label with its number and a scale, to hold against a real sheet."""
    cells = "".join(
        f'<div class="outline" style="left:{left:.2f}mm;top:{top:.2f}mm"><b>{n + 1}</b></div>'
        for n in range(stock.n_per_page) for left, top in (stock.corner_mm(n, nudge),)
    )
    scale_mm = min(100, int(stock.page_mm[0] // 10 * 10) - 10)
    marks = "".join(f'<i style="left:{mm}mm"></i>' for mm in range(0, scale_mm + 1, 10))
    said = paper.say("grid", {
        "right": paper.figure(nudge.right_mm, 1), "down": paper.figure(nudge.down_mm, 1), "mm": str(scale_mm),
    })
    body = (
        f'<section class="sheet">{cells}<div class="scale" style="width:{scale_mm}mm">{marks}<p>{said}</p></div>'
        "</section>"
    )
    return page(paper.say("grid_title"), paper.language, _style(stock), body)


def _label(
    what: LabelPage, bottle: SheetBottle, place: SheetPlace, corner_mm: tuple[float, float], paper: Paper,
) -> str:
    sheet = what.sheet
    drink, rider = what.drinks.get(bottle.drink_id), what.riders.get(bottle.rider_id or "")
    whose = paper.say("spare") if rider is None else paper.say("number", {"n": str(rider.race_number)})
    bottled = "" if drink is None else f"{text(drink.short_name)} {paper.figure(drink.bottle_l * 1000.0)} mL"
    where = paper.say("at_finish") if place.kind == "finish" else f"{text(place.name)} · km {paper.figure(place.km)}"
    about = paper.say("label_foot", {"n": str(sheet.stage_number), "version": str(sheet.sheet_version)})
    return (
        f'<div class="label" style="left:{corner_mm[0]:.2f}mm;top:{corner_mm[1]:.2f}mm">'
        f"{code_svg(bottle.qr_hex, sheet.qr_side_n, what.stock.code_mm)}"
        f'<div class="said"><p class="no">{bottle.number:02d}</p><p class="what"><b>{bottled}</b> {whose}</p>'
        f"<p>{where}</p><p>{about}</p></div></div>"
    )


def _type_pt(width_mm: float, height_mm: float) -> tuple[float, float, float]:
    """Choose the sizes of number, drink and the rest: as great as the label has room for, in width and in height."""
    if width_mm > WIDE_MM:
        grown = height_mm / WIDE_TYPE_MM
        return round(46.0 * grown, 1), round(15.0 * grown, 1), round(11.0 * grown, 1)
    if height_mm < LOW_MM:
        return 28.0, 10.0, 8.0
    return (34.0, 10.5, 9.0) if width_mm < NARROW_MM else (38.0, 12.0, 9.0)


def _style(stock: LabelStock) -> str:
    width, height = stock.page_mm
    label_width, label_height = stock.label_mm
    number_pt, what_pt, small_pt = _type_pt(label_width, label_height)
    return f"""
@page {{ size: {width}mm {height}mm; margin: 0 }}
html, body {{ margin: 0; color: #000; background: #fff; font: 9pt/1.15 {FONTS} }}
p {{ margin: 0; white-space: nowrap; overflow: hidden }}
.said p {{ font-size: {small_pt}pt; line-height: 1.35 }}
.sheet {{ position: relative; width: {width}mm; height: {height}mm; overflow: hidden; break-after: page }}
.sheet:last-child {{ break-after: auto }}
.label, .outline {{ position: absolute; width: {label_width}mm; height: {label_height}mm; overflow: hidden }}
.code {{ position: absolute; left: 3mm; top: {(label_height - stock.code_mm) / 2.0}mm }}
.said {{ position: absolute; left: {stock.code_mm + 4.0}mm; right: 2mm; top: 0; height: 100%;
  display: flex; flex-direction: column; justify-content: center }}
.said .no {{ font-size: {number_pt}pt; line-height: 0.95; font-weight: 700 }}
.said .what {{ font-size: {what_pt}pt }}
.outline {{ outline: 0.2mm solid #000; outline-offset: -0.1mm; text-align: center }}
.outline b {{ font-size: 14pt; line-height: {label_height}mm }}
.scale {{ position: absolute; left: 5mm; bottom: 2.5mm; height: 6mm; border-top: 0.3mm solid #000; font-size: 6.5pt }}
.scale i {{ position: absolute; top: -1.5mm; height: 3mm; border-left: 0.3mm solid #000 }}
.scale p {{ padding-top: 1.5mm; background: #fff }}
"""
