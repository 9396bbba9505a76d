"""A card for each rider's pocket: which bottles make up his sweat, and what waits where today."""

from dataclasses import dataclass

from brinebook.records.derived import PocketRule, StagePlan
from brinebook.records.edited import Drink, Food, Rider
from brinebook.records.plan_parts import PlanStep
from brinebook.sheets.markup import FONTS, PAPERS, Paper, page, text

N_PER_PAGE = 10


@dataclass(frozen=True)
class Card:
    """One rider's card."""

    rider: Rider
    plan: StagePlan
    rule: PocketRule | None


@dataclass(frozen=True)
class Names:
    """What cards call drinks and foods."""

    drinks: dict[str, Drink]
    foods: dict[str, Food]

    def drink(self, drink_id: str | None) -> str:
        """Return a drink's short name."""
        found = self.drinks.get(drink_id or "")
        return "" if found is None else found.short_name


def cards_html(cards: list[Card], *, names: Names, paper: Paper, paper_size: str) -> str:
    """Lay the cards out, ten to a page, each the size of a bank card (ISO/IEC 7810 ID-1)."""
    pages = [cards[first: first + N_PER_PAGE] for first in range(0, len(cards), N_PER_PAGE)]
    body = "".join(
        '<section class="sheet">' + "".join(_card(one, names, paper) for one in some) + "</section>" for some in pages
    )
    return page(paper.say("cards_title"), paper.language, _style(paper_size), body)


def _card(card: Card, names: Names, paper: Paper) -> str:
    plan = card.plan
    steps = " · ".join(step for step in (_step(one, names.drinks, paper) for one in plan.steps) if step)
    about = paper.say("card_foot", {"n": str(plan.stage_number), "version": str(plan.plan_version)})
    return (
        f'<div class="card"><p class="who"><b>{card.rider.race_number}</b> {text(card.rider.name)}</p>'
        f'<p class="rule">{rule_sentence(card.rule, names, paper)}</p><p class="steps">{steps}</p>'
        f'<p class="stop">{paper.say("card_stop")}</p><p class="about">{about}</p></div>'
    )


def _step(step: PlanStep, drinks: dict[str, Drink], paper: Paper) -> str:
    bottles = " ".join(
        text(drinks[id_].short_name) for id_, n in sorted(step.bottles.items()) if id_ in drinks for _ in range(n)
    )
    return f'<span class="step">km {paper.figure(step.km)} <b>{bottles}</b></span>' if bottles else ""


def rule_sentence(rule: PocketRule | None, names: Names, paper: Paper) -> str:
    """Say the pocket rule with its range where the test is uncertain."""
    if rule is None:
        return paper.say("rule.none")
    said_as = {"base": names.drink(rule.base_drink_id), "salty": names.drink(rule.salty_drink_id)}
    if rule.code != "every_nth_salty" or rule.one_in_n is None:
        return paper.say(f"rule.{rule.code}", said_as)
    n = max(1, round(rule.one_in_n))
    low, high = (n if end is None else max(1, round(end)) for end in (rule.one_in_n_low, rule.one_in_n_high))
    said = paper.say("rule.every_nth_salty", {**said_as, "n": n})
    spread = "" if low == high else paper.say("rule.spread", {"low": str(low), "high": str(high)})
    beside = " ".join(one for one in (_food(rule, names, paper), spread) if one)
    return f"{said} <small>{beside}</small>" if beside else said


def _food(rule: PocketRule, names: Names, paper: Paper) -> str:
    """Say which food stands in for a salty bottle, in halves."""
    food, units = names.foods.get(rule.food_id or ""), rule.food_units_per_salty_bottle
    if food is None or units is None:
        return ""
    halves = max(1, round(2.0 * units)) / 2.0
    return paper.say("rule.food", {
        "n": paper.figure(halves, 0 if halves == int(halves) else 1), "food": food.name,
        "salty": names.drink(rule.salty_drink_id),
    })


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
