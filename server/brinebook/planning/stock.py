"""What is on the shelf, what the rest of the race will use of it, and what to buy."""

from collections import defaultdict
from dataclasses import dataclass, field

import msgspec

from brinebook.engine.plan.stock import days_covered_n, packs_to_buy_n, use_quantiles
from brinebook.planning.basis import basis_of
from brinebook.planning.books import Books, Fact, digest
from brinebook.planning.coolbox import finish_drink
from brinebook.records.derived import Flag, StageForecast, StagePlan, Stock, StockLine
from brinebook.records.edited import Drink, Food, Supply
from brinebook.records.facts import Ate, Body, Delivered, HandedUp, StockCounted
from brinebook.records.plan_parts import PlanStep
from brinebook.storage.repository import NewDocument

STOCK_ID = "stock:team"
TENTHS_SD_N = 2.563
"""The 0.1 and the 0.9 quantile of a normal lie so many standard deviations apart."""
Uses = dict[str, float]


@dataclass
class _Day:
    """One race day ahead: what its plans take, and the expected use and spread of riders without a plan."""

    number: int
    planned: Uses = field(default_factory=lambda: defaultdict(float))
    likely: dict[str, list[tuple[float, float]]] = field(default_factory=lambda: defaultdict(list))
    is_planned: bool = True

    def high(self, item_id: str) -> float:
        """Return the high quantile of one day's use."""
        return self.quantiles(item_id)[2]

    def quantiles(self, item_id: str) -> tuple[float, float, float]:
        """Return the quantiles of one day's use."""
        pairs = self.likely.get(item_id, [])
        return use_quantiles(
            self.planned.get(item_id, 0.0), likely_n=tuple(one for one, _ in pairs),
            spread_sd=tuple(sd for _, sd in pairs),
        )


def stock_document(books: Books, made: list[NewDocument]) -> NewDocument | None:
    """Foresee what the race will use; None while there is neither a drink nor a food."""
    if not books.drinks and not books.foods:
        return None
    stock = stock_of(books, made)
    return NewDocument(id=stock.id, type="stock", subject_id=books.team_id, body=msgspec.json.encode(stock))


def stock_of(books: Books, made: list[NewDocument]) -> Stock:
    """Add up the days ahead per supply and food."""
    kept = {**{one.id: one.body for one in books.stored.values()}, **{one.id: one.body for one in made}}
    days = _days(books, kept)
    items: list[Supply | Food] = [*books.supplies.values(), *books.foods.values()]
    lines = [_line(books, item, days, kept) for item in sorted(items, key=lambda item: item.id)]
    return Stock(
        id=STOCK_ID, basis=basis_of(*_keys(books, kept)), flags=_flags(lines),
        from_stage=days[0].number if days else None, n_race_days=len(days),
        n_planned_days=sum(day.is_planned for day in days), lines=lines,
    )


def _keys(books: Books, kept: dict[str, bytes | None]) -> list[str]:
    counted = [fact.key for fact in books.facts if isinstance(fact.body, StockCounted | Delivered)]
    # A race has hundreds of plans and forecasts: they are named together, so that the shelf stays a small document.
    bodies = [
        id_.encode() + body for id_, body in sorted(kept.items())
        if body is not None and id_.startswith(("stage_plan:", "stage_forecast:"))
    ]
    return [*counted, f"plans_and_forecasts:{len(bodies)}#{digest(b''.join(bodies))}"]


def _flags(lines: list[StockLine]) -> list[Flag]:
    return [
        Flag(code="stock_short", severity="caution", detail=line.item_id, quantity="race_days",
             value=float(line.n_days_covered or 0))
        for line in lines if line.short_from_stage is not None
    ]


def _days(books: Books, kept: dict[str, bytes | None]) -> list[_Day]:
    """Take what the plans take; scale what has none yet by the litres of its forecast."""
    per_litre = _per_litre(books, kept)
    days = []
    for place in books.race_days:
        if place <= books.now:
            continue
        stage = books.stages[place]
        day = _Day(stage.number)
        for rider_id in sorted(set(books.riders) & set(books.bodies)):
            plan = kept.get(f"stage_plan:{rider_id}:{stage.id}")
            forecast = kept.get(f"stage_forecast:{rider_id}:{stage.id}")
            if plan is not None:
                _add(day.planned, _plan_uses(books, plan), 1.0)
            elif forecast is not None:
                day.is_planned = False
                _foresee(day, msgspec.json.decode(forecast, type=StageForecast), per_litre)
        for item_id, use in list(day.planned.items()):
            day.planned[item_id] = use * (1.0 + books.kit.spare_frac)
        days.append(day)
    return days


def _foresee(day: _Day, forecast: StageForecast, per_litre: Uses) -> None:
    sd_l = (forecast.sweat_q90_l - forecast.sweat_q10_l) / TENTHS_SD_N
    for item_id, use in per_litre.items():
        day.likely[item_id].append((use * forecast.sweat_q50_l, use * sd_l))


def _per_litre(books: Books, kept: dict[str, bytes | None]) -> Uses:
    """Return the use per litre of expected loss, over all plans there are, spares included."""
    used: Uses = defaultdict(float)
    lost_l = 0.0
    for id_, body in sorted(kept.items()):
        if not id_.startswith("stage_plan:") or body is None:
            continue
        forecast = kept.get(id_.replace("stage_plan:", "stage_forecast:", 1))
        uses = _plan_uses(books, body)
        if forecast is not None and uses:
            _add(used, uses, 1.0 + books.kit.spare_frac)
            lost_l += msgspec.json.decode(forecast, type=StageForecast).sweat_q50_l
    return {item_id: use / lost_l for item_id, use in used.items()} if lost_l > 0.0 else {}


def _add(total: Uses, more: Uses, times: float) -> None:
    for item_id, use in more.items():
        total[item_id] = total.get(item_id, 0.0) + times * use


def _plan_uses(books: Books, body: bytes) -> Uses:
    """Return the grams and pieces one plan takes, the bottle at the finish included."""
    plan = msgspec.json.decode(body, type=StagePlan)
    used = _uses(books, plan.steps)
    if plan.steps:
        _add(used, _finish_uses(books, plan.rider_id), 1.0)
    return used


def _finish_uses(books: Books, rider_id: str) -> Uses:
    drink = finish_drink(books, rider_id)
    return {} if drink is None else {key: g * drink.bottle_l for key, g in _grams(drink).items()}


def _uses(books: Books, steps: list[PlanStep]) -> Uses:
    """Return the grams and pieces some steps take."""
    drinks = {drink.id: drink for drink in books.drinks}
    used: Uses = defaultdict(float)
    for step in steps:
        for drink_id, n in step.bottles.items():
            if drink_id in drinks:
                _add(used, _grams(drinks[drink_id]), n * drinks[drink_id].bottle_l)
        _add(used, {food_id: float(n) for food_id, n in step.foods.items()}, 1.0)
    return used


def _grams(drink: Drink) -> Uses:
    grams: Uses = defaultdict(float)
    for portion in drink.recipe:
        grams[portion.supply_id] += portion.g_per_l
    return grams


def _line(books: Books, item: Supply | Food, days: list[_Day], kept: dict[str, bytes | None]) -> StockLine:
    is_supply = isinstance(item, Supply)
    pack = float(item.pack_g or 0.0) if isinstance(item, Supply) else float(item.n_per_pack or 0)
    planned = sum(day.planned.get(item.id, 0.0) for day in days)
    pairs = [pair for day in days for pair in day.likely.get(item.id, [])]
    need = use_quantiles(planned, likely_n=tuple(one for one, _ in pairs), spread_sd=tuple(sd for _, sd in pairs))
    on_hand, used = _on_hand(books, item.id, kept)
    covered = None if on_hand is None else days_covered_n(tuple(day.high(item.id) for day in days), on_hand_n=on_hand)
    is_short = covered is not None and covered < len(days)
    return StockLine(
        item_id=item.id, unit="g" if is_supply else "n", n_on_hand=on_hand, n_used=used,
        n_need_q10=need[0], n_need_q50=need[1], n_need_q90=need[2], n_per_pack=pack or None,
        n_packs_to_buy=packs_to_buy_n(need[2], on_hand_n=on_hand or 0.0, pack_n=pack) if pack else None,
        n_days_covered=covered, short_from_stage=days[covered].number if covered is not None and is_short else None,
    )


def _on_hand(books: Books, item_id: str, kept: dict[str, bytes | None]) -> tuple[float | None, float]:
    """Return the last count, with what came and less what went since; None when nobody has counted."""
    counts = [fact for fact in books.facts if isinstance(fact.body, StockCounted) and fact.body.item_id == item_id]
    last = max(counts, key=_when, default=None)
    if last is None or not isinstance(last.body, StockCounted):
        return None, 0.0
    since = _when(last)
    came = sum(
        fact.body.n_amount for fact in books.facts
        if isinstance(fact.body, Delivered) and fact.body.item_id == item_id and _when(fact) > since
    )
    used = _used_since(books, item_id, since[0], kept)
    return max(0.0, last.body.n_amount + came - used), used


def _when(fact: Fact[Body]) -> tuple[int, str]:
    return fact.event.at_ms, fact.event.id


def _used_since(books: Books, item_id: str, since_ms: int, kept: dict[str, bytes | None]) -> float:
    """Add up the days ridden since a count: the bottles and foods noted, or where nothing was noted the plan."""
    ridden = [stage for place, stage in enumerate(books.stages) if place <= books.now and stage.start_at_ms > since_ms]
    total = 0.0
    for stage in ridden:
        for rider_id in sorted(books.riders):
            noted = _noted(books, rider_id, stage.id)
            plan = kept.get(f"stage_plan:{rider_id}:{stage.id}")
            if noted:
                total += noted.get(item_id, 0.0) + _finish_uses(books, rider_id).get(item_id, 0.0)
            elif plan is not None:
                total += _plan_uses(books, plan).get(item_id, 0.0)
    return total


def _noted(books: Books, rider_id: str, stage_id: str) -> Uses:
    drinks = {drink.id: drink for drink in books.drinks}
    used: Uses = defaultdict(float)
    for handed in books.of_rider(rider_id, HandedUp, stage_id=stage_id):
        if handed.body.drink_id in drinks:
            _add(used, _grams(drinks[handed.body.drink_id]), handed.body.n_bottles * handed.body.volume_l)
    for eaten in books.of_rider(rider_id, Ate, stage_id=stage_id):
        _add(used, {eaten.body.food_id: eaten.body.n_units}, 1.0)
    return used
