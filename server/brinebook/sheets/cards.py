"""A card for each rider's pocket: which bottles make up his sweat, and what waits where today."""

from dataclasses import dataclass

from brinebook.records.derived import PocketRule, StagePlan
from brinebook.records.edited import Drink, Rider
from brinebook.records.plan_parts import PlanStep
from brinebook.sheets.markup import FONTS, PAPERS, Paper, page, text

N_PER_PAGE = 10


@dataclass(frozen=True)
class Card:
    """One rider's card."""

    rider: Rider
    plan: StagePlan
    rule: PocketRule | None


def cards_html(cards: list[Card], *, drinks: dict[str, Drink], paper: Paper, paper_size: str) -> str:
    """Lay the cards out, ten to a page, each the size of a bank card (ISO/IEC 7810 ID-1)."""
    pages = [cards[first: first + N_PER_PAGE] for first in range(0, len(cards), N_PER_PAGE)]
    body = "".join(
        '<section class="sheet">' + "".join(_card(one, drinks, paper) for one in some) + "</section>" for some in pages
    )
    return page(paper.say("cards_title"), paper.language, _style(paper_size), body)


def _card(card: Card, drinks: dict[str, Drink], paper: Paper) -> str:
    plan = card.plan
    steps = " · ".join(step for step in (_step(one, drinks, paper) for one in plan.steps) if step)
    about = paper.say("card_foot", {"n": str(plan.stage_number), "version": str(plan.plan_version)})
    return (
        f'<div class="card"><p class="who"><b>{card.rider.race_number}</b> {text(card.rider.name)}</p>'
        f'<p class="rule">{rule_sentence(card.rule, drinks, paper)}</p><p class="steps">{steps}</p>'
        f'<p class="stop">{paper.say("card_stop")}</p><p class="about">{about}</p></div>'
    )


def _step(step: PlanStep, drinks: dict[str, Drink], paper: Paper) -> str:
    bottles = " ".join(
        text(drinks[id_].short_name) for id_, n in sorted(step.bottles.items()) if id_ in drinks for _ in range(n)
    )
    return f'<span class="step">km {paper.figure(step.km)} <b>{bottles}</b></span>' if bottles else ""


def rule_sentence(rule: PocketRule | None, drinks: dict[str, Drink], paper: Paper) -> str:
    """Say the pocket rule with its range where the test is uncertain."""
    if rule is None:
        return paper.say("rule.none")
    names = {
        "base": _name(drinks, rule.base_drink_id), "salty": _name(drinks, rule.salty_drink_id),
    }
    if rule.code != "every_nth_salty" or rule.one_in_n is None:
        return paper.say(f"rule.{rule.code}", names)
    n = max(1, round(rule.one_in_n))
    low, high = (n if end is None else max(1, round(end)) for end in (rule.one_in_n_low, rule.one_in_n_high))
    said = paper.say("rule.every_nth_salty", {**names, "n": n})
    spread = "" if low == high else paper.say("rule.spread", {"low": str(low), "high": str(high)})
    return f"{said} <small>{spread}</small>" if spread else said


def _name(drinks: dict[str, Drink], drink_id: str | None) -> str:
    drink = drinks.get(drink_id or "")
    return "" if drink is None else drink.short_name


def _style(paper_size: str) -> str:
    return f"""
@page {{ size: {PAPERS[paper_size]}; margin: 0 }}
html, body {{ margin: 0; color: #000; background: #fff; font: 9pt/1.2 {FONTS} }}
p {{ margin: 0 }}
.sheet {{ display: flex; flex-wrap: wrap; align-content: flex-start; padding: 9mm 0 0 17mm; break-after: page }}
.sheet:last-child {{ break-after: auto }}
.card {{ position: relative; box-sizing: border-box; width: 85.6mm; height: 53.98mm; padding: 4mm; overflow: hidden;
  outline: 0.15mm dashed #000; outline-offset: -0.1mm }}
.who {{ font-size: 12pt }} .who b {{ font-size: 20pt }}
.rule {{ font-size: 12pt; font-weight: 700; line-height: 1.15; margin: 1mm 0 1.5mm }}
.rule small {{ display: block; font-size: 8pt; font-weight: 400 }}
.steps {{ font-size: 11pt; line-height: 1.25 }}
.step {{ white-space: nowrap }}
.stop {{ position: absolute; left: 4mm; right: 4mm; bottom: 7mm; font-size: 7.5pt; line-height: 1.15 }}
.about {{ position: absolute; left: 4mm; bottom: 3mm; font-size: 7pt }}
"""
