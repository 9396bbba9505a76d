"""What is kept when the facts behind it are let go of: no longer recomputable, and still about a person."""

from typing import Literal

from msgspec import Struct

Lane = Literal["dry", "in_lane", "wet", "cant_tell", "nothing_noted"]


class StageTotal(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """
    One rider's settled stage in a few figures, from the day its first fact goes by age until he is erased.

    It holds no mass, no place and no clock time; ``day`` is the day of the race in the race's own time zone.
    """

    id: str
    rider_id: str
    stage_id: str
    stage_number: int
    stage_name: str = ""
    day: str = ""
    lane: Lane
    drunk_l: float
    drunk_sd_l: float
    sweat_loss_l: float | None = None
    sweat_loss_sd_l: float | None = None
    sodium_drunk_mg: float = 0.0
    sodium_lost_mg: float | None = None
