"""Flags of a settled stage: what a person must look at, in code and numbers."""

from math import sqrt

from brinebook.engine.settle.intake import IntakeEstimate
from brinebook.planning.lane import LaneWord
from brinebook.planning.weighing import Loss
from brinebook.records.derived import Flag

PHYSICIAN = "tell_team_physician"
SCALE_REPEATS_FRAC = 0.001
UNEXPLAINED_L = 0.5
AGREE_SD = 2.0


def settlement_flags(
    *, lane: LaneWord, change_frac: float | None, loss: Loss | None, drunk_l: float, intake: IntakeEstimate,
    is_rejected: bool,
) -> list[Flag]:
    """List the warnings of a settled or proposed stage, the most serious first."""
    return [
        *_above_losses(lane, change_frac, loss, drunk_l),
        *_weigh_again(change_frac, loss),
        *_suspect_log(loss, is_rejected=is_rejected),
        *_unexplained(intake),
    ]


def _above_losses(lane: LaneWord, change_frac: float | None, loss: Loss | None, drunk_l: float) -> list[Flag]:
    """Drinking beyond losses can end in low blood sodium; it is the one warning that always goes to a physician."""
    if change_frac is not None and change_frac > SCALE_REPEATS_FRAC:
        return [Flag(code="drank_above_losses", severity="medical", quantity="body_mass_change_frac",
                     value=change_frac, limit=0.0, detail=PHYSICIAN)]
    if lane == "wet":
        limit_l = loss.sweat_l if loss is not None and loss.is_believable else None
        return [Flag(code="drank_above_losses", severity="medical", quantity="drunk_l", value=drunk_l, limit=limit_l,
                     detail=PHYSICIAN)]
    return []


def _weigh_again(change_frac: float | None, loss: Loss | None) -> list[Flag]:
    if loss is None or loss.is_believable:
        return []
    return [Flag(code="weigh_again", severity="caution", quantity="body_mass_change_frac", value=change_frac)]


def _suspect_log(loss: Loss | None, *, is_rejected: bool) -> list[Flag]:
    """Doubt the log first: a loss no model explains is more often an unnoted bottle than a rider changed overnight."""
    if not is_rejected or loss is None:
        return []
    return [Flag(code="suspect_log", severity="caution", quantity="sweat_loss_l", value=loss.sweat_l)]


def _unexplained(intake: IntakeEstimate) -> list[Flag]:
    if intake.is_in_agreement:
        return []
    gap_l = intake.derived_l - intake.noted_l
    limit_l = max(UNEXPLAINED_L, AGREE_SD * sqrt(intake.derived_sd_l**2 + intake.noted_sd_l**2))
    if abs(gap_l) <= UNEXPLAINED_L:
        return []
    return [Flag(code="unexplained_litres", severity="caution", quantity="unexplained_l", value=gap_l, limit=limit_l)]
