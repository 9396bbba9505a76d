"""What holds a rider's plans back for his own safety: a release that is missing, a bad gut, a sign for the doctor."""

from dataclasses import replace

from brinebook.engine.constants import balance as c
from brinebook.engine.plan.bottles import PlanLimits
from brinebook.engine.plan.gut import carbohydrate_cap_g_per_h, limits_after_gut_trouble
from brinebook.planning.books import Books
from brinebook.planning.warnings import PHYSICIAN
from brinebook.records.derived import Flag
from brinebook.records.edited import RiderBody
from brinebook.records.facts import Symptom

DAY_MS = 86_400_000
GUT_SYMPTOMS = frozenset({"vomiting", "bloating"})
DOCTOR_SYMPTOMS = frozenset({"confused", "puffy_hands"})
"""May be low blood sodium: nothing is planned until the physician has spoken with the rider."""
LOWERED = "guard:lowered"
DOCTOR = "guard:doctor"


def is_locked(body: RiderBody) -> bool:
    """Say whether a plan has to wait for a physician's release."""
    return body.needs_physician_release and not body.is_released_by_physician


def guards_of(books: Books, rider_id: str, place: int) -> tuple[str, ...]:
    """
    Name what lowers or stops a stage's plan: symptoms of the stage itself or of the day before its start.

    The names go into a basis that others read, so they never say which symptom it was.
    """
    stage = books.stages[place]
    told = {
        fact.body.symptom for fact in books.of_rider(rider_id, Symptom)
        if fact.event.stage_id == stage.id or 0 <= stage.start_at_ms - fact.event.at_ms < DAY_MS
    }
    lowered = (LOWERED,) if told & GUT_SYMPTOMS else ()
    return (*lowered, *((DOCTOR,) if told & DOCTOR_SYMPTOMS else ()))


def is_stopped(body: RiderBody, guards: tuple[str, ...]) -> bool:
    """Say whether nothing may be planned at all."""
    return is_locked(body) or DOCTOR in guards


def guard_flags(body: RiderBody, guards: tuple[str, ...]) -> list[Flag]:
    """Say what holds the plan back, never why: that is between the rider and the doctor."""
    flags = []
    if is_locked(body):
        flags.append(Flag(code="physician_release", severity="medical", detail=PHYSICIAN))
    if DOCTOR in guards:
        flags.append(Flag(code="doctor_first", severity="medical", detail=PHYSICIAN))
    if LOWERED in guards:
        flags.append(Flag(code="limits_lowered", severity="caution"))
    return flags


def limits_of(body: RiderBody, guards: tuple[str, ...], *, opened: tuple[tuple[float, float], ...]) -> PlanLimits:
    """
    Set one rider's limits for a stage.

    ``opened`` holds sodium [mg/L] and carbohydrate [g/L] of the drinks opened for him that day.
    """
    is_trained = body.is_gut_trained and body.has_agreed_to_high_carbohydrate
    limits = PlanLimits(
        max_sodium_mg_per_h=body.released_sodium_mg_per_h or c.MAX_SODIUM_MG_PER_H,
        max_carbohydrate_g_per_h=carbohydrate_cap_g_per_h(is_mixed_sugar=True, is_gut_trained=is_trained),
        max_drink_sodium_mg_per_l=max(c.MAX_DRINK_SODIUM_MG_PER_L, *(one[0] for one in opened), 0.0),
        max_drink_carbohydrate_g_per_l=max(c.MAX_DRINK_CARBOHYDRATE_G_PER_L, *(one[1] for one in opened), 0.0),
    )
    if body.max_intake_l_per_h is not None:
        limits = replace(
            limits, max_intake_l_per_h=min(limits.max_intake_l_per_h, body.max_intake_l_per_h),
            max_any_hour_l_per_h=min(limits.max_any_hour_l_per_h, body.max_intake_l_per_h),
        )
    return limits_after_gut_trouble(limits) if LOWERED in guards else limits
