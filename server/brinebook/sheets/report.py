"""The evening meeting on one or two pages: what each rider lost and drank, what it taught, what must be said aloud."""

from dataclasses import dataclass
from datetime import datetime

from brinebook.records.derived import EveningDrink, Flag, Settlement
from brinebook.records.edited import Rider, Stage
from brinebook.sheets.markup import FONTS, PAPERS, TIMES, Paper, page, text
from brinebook.words import say

LANE_MM = (22.0, 6.0)
KERBS = (6.0, 16.0)
RANK = {"medical": 0, "stop": 1, "caution": 2, "note": 3}
DRY_KERB_FRAC = -0.02
EN_DASH = "\u2013"


@dataclass(frozen=True)
class ReportRow:
    """One rider's evening."""

    rider: Rider
    settlement: Settlement | None
    evening: EveningDrink | None


def report_html(rows: list[ReportRow], *, stage: Stage, printed: datetime, paper: Paper, paper_size: str) -> str:
    """Lay out the stage report: the warnings first, then one line per rider."""
    title = paper.say("report.title", {"n": str(stage.number), "name": stage.name})
    n_settled = sum(row.settlement is not None and row.settlement.state == "settled" for row in rows)
    said = paper.say("report.count", {"n": str(n_settled), "all": str(len(rows))})
    heads = ("rider", "mass", "drunk", "sweat", "expected", "balance", "tonight", "factor")
    head = "".join(f"<th scope='col'>{paper.say(f'report.{name}')}</th>" for name in heads)
    body = "".join(_row(row, paper) for row in rows)
    return page(title, paper.language, _style(paper_size), (
        f"<h1>{title}</h1><p>{said} · {text(printed.strftime('%Y-%m-%d %H:%M'))}</p>{_warnings(rows, paper)}"
        f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
        f"<p class='foot'>{paper.say('report.foot')}</p>"
    ))


def _warnings(rows: list[ReportRow], paper: Paper) -> str:
    found = [
        (RANK[flag.severity], row.rider, flag) for row in rows if row.settlement is not None
        for flag in row.settlement.flags if flag.severity != "note"
    ]
    if not found:
        return f"<p class='quiet'>{paper.say('report.no_warning')}</p>"
    lines = "".join(
        f"<li class='{flag.severity}'><b>{rider.race_number} {text(rider.name)}</b> {_said(flag, paper)}</li>"
        for _, rider, flag in sorted(found, key=lambda one: (one[0], one[1].race_number))
    )
    return f"<ul>{lines}</ul>"


def _said(flag: Flag, paper: Paper) -> str:
    values = {
        "value": _quantity(flag.quantity, flag.value, paper), "limit": _quantity(flag.quantity, flag.limit, paper),
        "quantity": flag.quantity.replace("_", " "), "detail": flag.detail,
    }
    said = text(say(paper.language, f"flag.{flag.code}", values))
    return f"{said} <b>{text(say(paper.language, 'flag.physician'))}</b>" if flag.severity == "medical" else said


def _quantity(name: str, value: float | None, paper: Paper) -> str:
    if value is None:
        return ""
    if name.endswith("_frac"):
        return paper.percent(value)
    if name.endswith("_l"):
        return paper.litres(value)
    return paper.figure(value, 0 if abs(value) >= 20.0 else 1)  # noqa: PLR2004 - digits a reader can use


def _row(row: ReportRow, paper: Paper) -> str:
    one = row.settlement
    who = f"<th scope='row'><b>{row.rider.race_number}</b> {text(row.rider.name)}</th>"
    if one is None:
        return f"<tr>{who}<td colspan='7'>{paper.say('report.nothing')}</td></tr>"
    mass = "—" if one.body_mass_change_frac is None else paper.percent(one.body_mass_change_frac)
    cells = (
        mass,
        _litres(one.agreed_drunk_l, paper) + ("" if one.agreed_drunk_l is not None else f" {paper.say('report.open')}"),
        _litres(one.sweat_loss_l, paper), _range(one.predicted_q10_l, one.predicted_q90_l, paper),
        f"{_lane_svg(one)} {text(say(paper.language, f'lane.{one.lane}'))}", _tonight(row.evening, paper),
        _factor(one, paper),
    )
    return f"<tr>{who}{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"


def _litres(value_l: float | None, paper: Paper) -> str:
    return "—" if value_l is None else paper.litres(value_l)


def _range(low_l: float | None, high_l: float | None, paper: Paper) -> str:
    return "—" if low_l is None or high_l is None else f"{paper.figure(low_l, 1)}{EN_DASH}{paper.figure(high_l, 1)} L"


def _tonight(evening: EveningDrink | None, paper: Paper) -> str:
    if evening is None:
        return "—"
    return f"{paper.litres(evening.drink_until_bed_l)}, {paper.figure(evening.sodium_mg)} mg"


def _factor(one: Settlement, paper: Paper) -> str:
    if one.factor_before is None or one.factor_after is None:
        return "—"
    return f"{TIMES} {paper.figure(one.factor_before, 2)} → {paper.figure(one.factor_after, 2)}"


def _lane_svg(one: Settlement) -> str:
    """Draw one mark between two kerbs; shape and place say the side, in grey as well."""
    wide, tall = LANE_MM
    left, right = KERBS
    share = 0.5 if one.body_mass_change_frac is None else 1.0 - one.body_mass_change_frac / DRY_KERB_FRAC
    x = min(wide - 1.5, max(1.5, left + share * (right - left)))
    bounds = {"dry": (1.5, left - 1.5), "in_lane": (left + 1.5, right - 1.5), "wet": (right + 1.5, wide - 1.5)}
    low, high = bounds.get(one.lane, (wide / 2, wide / 2))
    x, y = min(high, max(low, x)), tall / 2
    marks = {
        "dry": f'<circle cx="{x:.2f}" cy="{y}" r="1.1" fill="none" stroke="#000" stroke-width="0.5"/>',
        "in_lane": f'<circle cx="{x:.2f}" cy="{y}" r="1.3"/>',
        "wet": f'<rect x="{x - 1.2:.2f}" y="{y - 1.2}" width="2.4" height="2.4"/>',
        "cant_tell": f'<path d="M1.5 {y}H{wide - 1.5}" stroke="#000" stroke-width="0.4" stroke-dasharray="1 1"/>',
    }
    return (
        f'<svg width="{wide}mm" height="{tall}mm" viewBox="0 0 {wide} {tall}">'
        f'<path d="M{left} 0V{tall}M{right} 0V{tall}" '
        f'stroke="#000" stroke-width="0.6"/>{marks.get(one.lane, "")}</svg>'
    )


def _style(paper_size: str) -> str:
    return f"""
@page {{ size: {PAPERS[paper_size]}; margin: 14mm 12mm }}
html, body {{ margin: 0; color: #000; background: #fff; font: 9.5pt/1.25 {FONTS} }}
h1 {{ font-size: 18pt; margin: 0 0 1mm }} p {{ margin: 0 0 3mm }}
ul {{ list-style: none; margin: 0 0 4mm; padding: 0 }}
li {{ border-left: 1.2mm solid #000; padding: 0.5mm 0 0.5mm 3mm; margin-bottom: 1.5mm; break-inside: avoid }}
li.medical, li.stop {{ border-left: 2mm double #000; font-weight: 600 }}
table {{ width: 100%; border-collapse: collapse }} thead {{ display: table-header-group }}
th, td {{ text-align: left; vertical-align: middle; padding: 1.4mm 1.5mm; border-bottom: 0.2mm solid #000 }}
thead th {{ border-bottom: 0.5mm solid #000; font-size: 8.5pt }} tr {{ break-inside: avoid }}
svg {{ vertical-align: middle }} .foot, .quiet {{ margin-top: 4mm }}
"""
