"""Derived records without a body in them: cut from those that have one, for roles that may see litres and no mass."""

from typing import Literal

from msgspec import field

from brinebook.records.common import StageKind
from brinebook.records.derived import Derived, ProfilePoint, Reason
from brinebook.records.plan_parts import PlanStep


class ForecastSummary(Derived, frozen=True, kw_only=True, omit_defaults=True):
    """A forecast in half litres, for those who may see losses and no mass: no power, no model figure, no sodium."""

    stage_id: str
    stage_number: int
    stage_kind: StageKind
    duration_h: float
    sweat_q10_l: float
    sweat_q50_l: float
    sweat_q90_l: float
    wbgt_max_c: float
    air_temperature_max_c: float
    along: list[ProfilePoint]


class PlanSummary(Derived, frozen=True, kw_only=True, omit_defaults=True):
    """A plan's bottles, and what holds them back in words: no target, no deficit, no blood sodium."""

    stage_id: str
    stage_number: int
    status: Literal["draft", "published"]
    plan_version: int
    supersedes: int | None = None
    water_l: float
    sodium_mg: float
    carbohydrate_g: float
    steps: list[PlanStep]
    along: list[tuple[float, float]]
    """Kilometre and litres drunk by then."""
    binding_limits: list[str]
    heat: list[str] = field(default_factory=list)
    changed: list[Reason] = field(default_factory=list)
