"""The team's prep sheet: bottles by place with tick boxes, batches by bucket, ice, spares, lines for the pencil."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from brinebook.engine.plan.recipe import Dose, buckets_l, dose
from brinebook.records.derived import Musette, PrepSheet, SheetBottle, SheetMix, SheetPlace
from brinebook.records.edited import Drink, Food, Rider, Stage
from brinebook.sheets.markup import FONTS, PAPERS, SHOWN_ERROR_FRAC, TIMES, Paper, page, text

WEIGH_ABOVE_FRAC = 0.10
"""Where whole scoops would be off by more, the sheet asks for the scale."""


@dataclass(frozen=True)
class PrepPage:
    """What a prep sheet is printed from."""

    sheet: PrepSheet
    stage: Stage
    drinks: dict[str, Drink]
    foods: dict[str, Food]
    riders: dict[str, Rider]
    bucket_l: float
    printed: datetime
    paper_size: str
    link_svg: str


def prep_html(what: PrepPage, paper: Paper) -> str:
    """Write the sheet: batches first, since mixing comes first, then every place of the road."""
    body = (
        _head(what, paper)
        + f'<h2>{paper.say("mix_title", {"bucket": paper.litres(what.bucket_l)})}</h2>'
        + "".join(_mix(mix, what.bucket_l, paper) for mix in what.sheet.mixes)
        + '<div class="places">' + "".join(_place(place, what, paper) for place in what.sheet.places) + "</div>"
        + _foot(what, paper)
    )
    title = paper.say("title", {"n": str(what.sheet.stage_number), "name": what.stage.name})
    return page(title, paper.language, _style(what.paper_size), body)


def _head(what: PrepPage, paper: Paper) -> str:
    sheet = what.sheet
    title = paper.say("title", {"n": str(sheet.stage_number), "name": what.stage.name})
    version = paper.say("version", {"n": str(sheet.sheet_version)})
    over = "" if sheet.supersedes is None else " · " + paper.say("supersedes", {"n": str(sheet.supersedes)})
    printed = paper.say("printed", {"time": f"{what.printed:%H:%M}", "day": f"{what.printed:%Y-%m-%d}"})
    status = f'<p class="draft">{paper.say("draft")}</p>' if sheet.status == "draft" else ""
    newer = any(flag.code == "plan_superseded" for flag in sheet.flags)
    coming = f'<p class="draft">{paper.say("newer_coming")}</p>' if newer else ""
    left_out = ", ".join(_rider(what.riders.get(id_)) for id_ in sheet.unplanned_rider_ids)
    nothing = f'<p>{paper.say("unplanned", {"riders": left_out})}</p>' if left_out else ""
    return (
        f'<header><div><h1>{title}</h1><p class="version"><b>{version}</b>{over} · {printed}</p>{status}{coming}'
        f"{nothing}</div>{what.link_svg}</header>"
    )


def _rider(rider: Rider | None) -> str:
    return "?" if rider is None else f"{rider.race_number} {text(rider.name)}"


def _mix(mix: SheetMix, bucket_l: float, paper: Paper) -> str:
    head = paper.say("mix", {
        "name": mix.name, "short": mix.short_name, "bottles": mix.n_bottles, "litres": paper.litres(mix.volume_l),
    })
    strength = paper.say("strength", {
        "sodium": paper.figure(mix.sodium_mg_per_l), "carbohydrate": paper.figure(mix.carbohydrate_g_per_l),
    })
    if not mix.portions:
        return f'<section class="mix"><h3>{head}</h3><p>{strength}</p></section>'
    fills = list(Counter(buckets_l(mix.volume_l, bucket_l=bucket_l)).items())
    rows = "".join(_fill(mix, volume_l, n, paper) for volume_l, n in fills)
    names = "".join(f"<th>{text(portion.name)}</th>" for portion in mix.portions)
    return (
        f'<section class="mix"><h3>{head}</h3><p>{strength}</p><table><thead><tr><th>{paper.say("bucket")}</th>'
        f'{names}<th>{paper.say("water")}</th><th>{paper.say("if_scooped")}</th><th></th></tr></thead>'
        f"<tbody>{rows}</tbody></table></section>"
    )


def _fill(mix: SheetMix, volume_l: float, n: int, paper: Paper) -> str:
    doses = [dose(portion.g_per_l, volume_l=volume_l, scoop_g=portion.scoop_g) for portion in mix.portions]
    cells = "".join(f"<td>{_dose(one, paper)}</td>" for one in doses)
    fill = paper.say("fill", {"n": n, "litres": paper.litres(volume_l)})
    boxes = '<i class="box"></i>' * n
    return (
        f"<tr><th>{fill}</th>{cells}<td>{paper.litres(volume_l * mix.water_frac)}</td>"
        f"<td>{_scooped(mix, doses, volume_l, paper)}</td><td class='boxes'>{boxes}</td></tr>"
    )


def _dose(one: Dose, paper: Paper) -> str:
    grams = f"<b>{paper.grams(one.mass_g)}</b>"
    if one.n_scoops is None:
        return grams
    if abs(one.error_frac) > WEIGH_ABOVE_FRAC:
        return f"{grams} {paper.say('weigh')}"
    error = "" if abs(one.error_frac) < SHOWN_ERROR_FRAC else f" <span>({paper.percent(one.error_frac)})</span>"
    return f"{grams} = {paper.say('scoops', {'n': one.n_scoops})}{error}"


def _scooped(mix: SheetMix, doses: list[Dose], volume_l: float, paper: Paper) -> str:
    """Say what sodium the batch has when the scoops are used wherever the sheet offers them."""
    used_mg = sum(
        portion.sodium_mg_per_g * one.mass_g
        * (1.0 + (one.error_frac if abs(one.error_frac) <= WEIGH_ABOVE_FRAC else 0.0))
        for portion, one in zip(mix.portions, doses, strict=True)
    )
    made = used_mg / volume_l
    error_frac = made / mix.sodium_mg_per_l - 1.0 if mix.sodium_mg_per_l > 0.0 else 0.0
    return f"{paper.figure(made)} mg/L <span>({paper.percent(error_frac)})</span>"


def _place(place: SheetPlace, what: PrepPage, paper: Paper) -> str:
    where = paper.say("finish") if place.kind == "finish" else text(place.name)
    head = paper.say("place", {"where": where, "km": paper.figure(place.km), "n": len(place.bottles)})
    bottles = _in_two([_bottle(bottle, what, paper) for bottle in place.bottles], "bottles")
    musettes = _in_two([_musette(one, what) for one in place.musettes], "food")
    food = f'<h3>{paper.say("musettes")}</h3>{musettes}' if musettes else ""
    ice = paper.say("ice", {"kg": paper.figure(max(1.0, place.ice_kg))})
    note = f'<p class="note">{paper.say("finish_note")}</p>' if place.kind == "finish" else ""
    packed = paper.say("packed_by")
    cars = paper.say("loaded")
    return (
        f'<section class="place"><h2>{head}</h2><p>{ice}</p>{note}{bottles}{food}'
        f'<p class="pencil">{packed} <u></u> {cars} <i class="box"></i></p></section>'
    )


def _bottle(bottle: SheetBottle, what: PrepPage, paper: Paper) -> str:
    drink = what.drinks.get(bottle.drink_id)
    name = "?" if drink is None else f"<b>{text(drink.short_name)}</b> {paper.figure(drink.bottle_l * 1000.0)} mL"
    whose = _rider(what.riders.get(bottle.rider_id)) if bottle.rider_id else paper.say("spare")
    return (
        f'<td class="no">{bottle.number:02d}</td><td class="tick"><i class="box"></i></td>'
        f'<td class="whose">{whose}<br>{name}</td>'
    )


def _musette(one: Musette, what: PrepPage) -> str:
    named = ((what.foods.get(food_id), food_id, n) for food_id, n in sorted(one.foods.items()))
    foods = ", ".join(f"{n} {TIMES} {text(food_id if food is None else food.name)}" for food, food_id, n in named)
    return f'<td class="tick"><i class="box"></i></td><td>{_rider(what.riders.get(one.rider_id))}: {foods}</td>'


def _in_two(cells: list[str], name: str) -> str:
    """Lay cells out in two columns that are read downwards; column layout proper is too slow to print."""
    half = (len(cells) + 1) // 2
    gap = '<td class="gap"></td>'
    rows = "".join(
        f"<tr>{left}{gap}{cells[half + n] if half + n < len(cells) else ''}</tr>" for n, left in enumerate(cells[:half])
    )
    return f'<table class="two {name}">{rows}</table>' if rows else ""


def _foot(what: PrepPage, paper: Paper) -> str:
    lines = '<u class="line"></u>' * 3
    count = paper.say("count", {"n": sum(len(place.bottles) for place in what.sheet.places)})
    return f'<footer><h2>{paper.say("pencil")}</h2>{lines}<p>{count}</p><p>{paper.say("caution")}</p></footer>'


def _style(paper_size: str) -> str:
    return f"""
@page {{ size: {PAPERS[paper_size]}; margin: 12mm 12mm 14mm;
  @bottom-right {{ content: counter(page) " / " counter(pages); font: 9pt {FONTS} }} }}
html, body {{ margin: 0; color: #000; background: #fff; font: 11pt/1.25 {FONTS} }}
h1, h2, h3, p, ul {{ margin: 0; padding: 0 }}
h1 {{ font-size: 20pt; line-height: 1.1 }} h2 {{ font-size: 15pt; break-after: avoid }}
h3 {{ font-size: 12pt; break-after: avoid }}
ul {{ list-style: none }}
header {{ display: flex; justify-content: space-between; gap: 6mm; border-bottom: 0.6mm solid #000;
  padding-bottom: 3mm; margin-bottom: 4mm }}
.draft {{ font-weight: 700; border: 0.6mm solid #000; padding: 1mm 2mm; margin-top: 2mm }}
.mix {{ break-inside: avoid; margin: 3mm 0 }}
table {{ border-collapse: collapse; width: 100%; margin-top: 1mm }}
th, td {{ border: 0.2mm solid #000; padding: 1.2mm 1.6mm; text-align: left; vertical-align: middle; font-weight: 400 }}
td span, th {{ white-space: nowrap }} thead th {{ white-space: normal }}
thead th {{ font-weight: 700; font-size: 11pt }}
.box {{ display: inline-block; width: 7mm; height: 7mm; border: 0.4mm solid #000; box-sizing: border-box }}
.boxes {{ white-space: nowrap }} .boxes .box {{ margin-right: 1mm }}
.place {{ break-inside: avoid; margin-top: 5mm; border-top: 0.6mm solid #000; padding-top: 2mm }}
.two {{ margin-top: 1.5mm; table-layout: fixed }}
.two td {{ border: 0; padding: 1mm 0; line-height: 1.15 }}
.bottles td:not(.gap) {{ border-bottom: 0.15mm solid #000 }}
.two .gap {{ width: 8mm }} .two .tick {{ width: 10mm }}
.two .no {{ font-size: 20pt; line-height: 1; font-weight: 700; width: 14mm }}
.pencil {{ margin-top: 3mm; display: flex; align-items: end; gap: 3mm; white-space: nowrap }}
.pencil u {{ display: inline-block; width: 55mm; border-bottom: 0.3mm solid #000; text-decoration: none }}
footer {{ break-inside: avoid; margin-top: 6mm; border-top: 0.6mm solid #000; padding-top: 2mm }}
.line {{ display: block; height: 9mm; border-bottom: 0.3mm solid #000; text-decoration: none }}
footer p {{ margin-top: 2mm }}
"""
