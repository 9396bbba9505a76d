"""The trouble planted in the play, and the words by which it must be noticed."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["above_losses", "logs_nothing", "scale_fault", "weak_mix", "dry_days", "no_weigh_in"]


@dataclass(frozen=True)
class Trouble:
    """One thing that goes wrong: for whom, on which stages."""

    kind: Kind
    rider_id: str
    stages: tuple[int, ...]
    what: str


PLANTED = (
    Trouble("above_losses", "r-okunde", (10, 11), "drinks a quarter more than he loses on two cool stages"),
    Trouble("logs_nothing", "r-halvik", (5, 13), "his phone notes nothing and his hand-ups go unnoted"),
    Trouble("scale_fault", "r-tremoux", (10,), "the scale shows 1.5 kg too much after the stage"),
    Trouble("weak_mix", "", (7,), "the standard mix is made with 500 instead of 800 mg sodium per litre"),
    Trouble("dry_days", "r-tremoux", (6, 7, 8), "drinks half of his plan three days in a row"),
    Trouble("no_weigh_in", "r-dombrek", (14,), "is not weighed after the stage"),
)
SCALE_FAULT_KG = 1.5
WEAK_DRINK_ID = "d-standard"
WEAK_SODIUM_MG_PER_L = 500.0
DRY_SHARE = 0.55
ABOVE_LOSSES_SHARE = 1.25


def has_trouble(kind: Kind, rider_id: str, stage_number: int) -> bool:
    """Tell whether this trouble is planted here."""
    return any(
        trouble.kind == kind and trouble.rider_id in ("", rider_id) and stage_number in trouble.stages
        for trouble in PLANTED
    )
