"""Why a plan is what it is, and what changed it: figures before and after the rider's last settled stage."""

from math import exp

from brinebook.engine.plan.balance import PlanTargets
from brinebook.planning.evening import carried_into
from brinebook.planning.standing import Race, Standing
from brinebook.planning.strength import drinks_as_mixed
from brinebook.records.derived import Reason, StagePlan

SAME_FRAC = 1e-6


def plan_reasons(standing: Standing, *, q50_l: float, aim: PlanTargets, table_evidence: bool) -> list[Reason]:
    """List the inputs of a plan with their evidence."""
    learnt, known = standing.learnt, standing.sodium
    return [
        Reason(code="forecast", quantity="sweat_q50_l", after=q50_l, evidence="predicted", source="sweat_chain"),
        Reason(code="sweat_factor", quantity="sweat_factor", after=_factor(standing),
               evidence="weighed" if learnt.n_used else "default", source="reconciliation"),
        Reason(code="sodium", quantity="sodium_mmol_per_l", after=known.estimate.mean_mmol_per_l,
               evidence="weighed" if known.n_tests else "default", source="sodium_estimator"),
        Reason(code="target_water", quantity="replaced_frac", after=aim.replaced_frac, evidence="predicted",
               source="mcdermott2017"),
        Reason(code="target_sodium", quantity="sodium_share_frac", after=aim.sodium_share_frac, evidence="predicted",
               source="nguyen_kurtz2005"),
        Reason(code="drinks", quantity="drink_sodium_mg_per_l", evidence="weighed" if table_evidence else "default"),
    ]


def changes(race: Race, rider_id: str, place: int) -> list[Reason]:
    """
    Say what the rider's last settled stage changed in this plan.

    The state before is computed from the facts before that stage, not remembered: the record stays a pure function
    of facts, and computing it twice says the same.
    """
    last = race.last_settled(rider_id, place)
    if last is None:
        return [Reason(code="first_plan")]
    before, after = race.standing(rider_id, last), race.standing(rider_id, place)
    carried = carried_into(race, rider_id, place)
    candidates = [
        Reason(code="sweat_factor", quantity="sweat_factor", before=_factor(before), after=_factor(after),
               evidence="weighed", source="reconciliation"),
        *_sodium_change(before, after),
        Reason(code="deficit_carried", quantity="deficit_l", before=0.0, after=carried.deficit_l, evidence="weighed"),
        Reason(code="forecast", quantity="sweat_q50_l",
               before=float(race.forecast_with(before, place).cumulative_quantiles_l[1, -1]),
               after=float(race.forecast(rider_id, place).cumulative_quantiles_l[1, -1]),
               evidence="predicted", source="sweat_chain"),
        *_drink_changes(race, since_ms=race.books.stages[last].start_at_ms),
    ]
    return [reason for reason in candidates if _is_moved(reason.before or 0.0, reason.after or 0.0)]


CODE_BY_KEY = {
    "stage": "road_or_weather", "ride": "role", "rules": "rules", "opened": "opened_drinks", "drink": "drinks",
    "plan_goals": "goals",
    "food": "foods", "rider_palate": "palate", "shelf": "stock", "guard": "limits_lowered", "morning": "morning",
    "evening": "deficit_carried", "settlement": "settlement", "profile": "profile",
}
"""What a key of a basis is about, by what stands before its colon; a bare id is a batch that was checked."""
MIX = "mix_checked"


def moved(before: StagePlan, after: StagePlan) -> list[Reason]:
    """
    Say what differs between a published plan and the one that would be made now: figures first, then why.

    The reasons follow from the two bases alone, so that a fact that changed nothing is not named.
    """
    figures = [
        Reason(code="plan_water", quantity="water_l", before=before.water_l, after=after.water_l,
               evidence="predicted"),
        Reason(code="plan_sodium", quantity="sodium_mg", before=before.sodium_mg, after=after.sodium_mg,
               evidence="predicted"),
        Reason(code="plan_carbohydrate", quantity="carbohydrate_g", before=before.carbohydrate_g,
               after=after.carbohydrate_g, evidence="predicted"),
        Reason(code="plan_bottles", quantity="bottles_n", before=_n_bottles(before), after=_n_bottles(after),
               evidence="predicted"),
    ]
    differ = set(before.basis.input_ids) ^ set(after.basis.input_ids)
    codes = {CODE_BY_KEY.get(key.partition(":")[0], MIX) if ":" in key else MIX for key in differ}
    return [
        *(reason for reason in figures if _is_moved(reason.before or 0.0, reason.after or 0.0)),
        *(Reason(code=code) for code in sorted(codes)),
    ]


def _n_bottles(plan: StagePlan) -> float:
    return float(sum(sum(step.bottles.values()) for step in plan.steps))


def _sodium_change(before: Standing, after: Standing) -> list[Reason]:
    """Report a new test; one that merely grew older is no news."""
    if before.sodium.keys == after.sodium.keys:
        return []
    return [Reason(code="sodium", quantity="sodium_mmol_per_l", before=before.sodium.estimate.mean_mmol_per_l,
                   after=after.sodium.estimate.mean_mmol_per_l, evidence="weighed", source="sodium_estimator")]


def _drink_changes(race: Race, *, since_ms: int) -> list[Reason]:
    return [
        Reason(code="drinks", quantity="drink_sodium_mg_per_l", before=mixed.drink.sodium_mg_per_l,
               after=mixed.sodium_mg_per_l, evidence="weighed", source=drink_id)
        for drink_id, mixed in sorted(drinks_as_mixed(race.books).items())
        if drink_id in race.books.mix_checks and race.books.mix_checks[drink_id].event.at_ms >= since_ms
    ]


def _factor(standing: Standing) -> float:
    return exp(standing.learnt.offset_log + standing.learnt.state.log_mean)


def _is_moved(before: float, after: float) -> bool:
    return abs(after - before) > SAME_FRAC * max(abs(before), abs(after))
