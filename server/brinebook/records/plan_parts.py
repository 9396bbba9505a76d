"""Parts of a plan and of an evening: what to take where, and what would free it."""

from msgspec import Struct


class PlanStep(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Take this at that feed point and drink it before the next one."""

    feed_id: str
    feed_name: str
    km: float
    until_km: float
    bottles: dict[str, int]
    foods: dict[str, int] = {}
    drink_l: float = 0.0
    drinks_l: dict[str, float] = {}
    """How much of each drink to swallow on this stretch."""
    eat: dict[str, float] = {}
    """Units of each food to eat on this stretch, in parts."""


class FreedBy(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What would free a plan from a limit, and the penalty it would save (a bottle costs 0.2)."""

    limit: str
    code: str
    gain_u: float
    feed_name: str = ""
    km: float | None = None


class PlanPoint(Struct, frozen=True, array_like=True):
    """Planned state at the end of each step."""

    km: float
    intake_l: float
    sodium_mg: float
    deficit_q50_frac: float
    plasma_sodium_low_mmol_per_l: float
    plasma_sodium_high_mmol_per_l: float


class RestDay(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A rest day between two stages: ``usual_l`` comes with meals and habit, ``drink_l`` is still owed on top."""

    stage_id: str
    drink_l: float
    usual_l: float
    sodium_mg: float
