"""What a rider drank, from bottles handed up and from what was noted on the road."""

import math
from dataclasses import dataclass

import numpy as np

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical
from brinebook.engine.units import FloatArray

RANKS = ("weighed", "counted", "tapped", "recalled", "default")


@dataclass(frozen=True, slots=True)
class IntakeFacts:
    """Volumes of one rider and stage, one number per fact, and how each was found out."""

    handed_up_l: tuple[float, ...] = ()
    came_back_l: tuple[float, ...] = ()
    came_back_evidence: tuple[str, ...] = ()
    poured_l: tuple[float, ...] = ()
    lost_l: tuple[float, ...] = ()
    noted_l: tuple[float, ...] = ()
    noted_evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class IntakeEstimate:
    """Two lines of evidence and the litres they propose together."""

    derived_l: float
    derived_sd_l: float
    noted_l: float
    noted_sd_l: float
    proposed_l: float
    proposed_sd_l: float
    evidence: str
    is_in_agreement: bool


@dataclass(frozen=True, slots=True)
class _Line:
    value_l: float
    sd_l: float
    evidence: str


def drunk_from_facts(facts: IntakeFacts) -> IntakeEstimate:
    """
    Litres drunk on a stage, from bottles and from notes.

    Parameters
    ----------
    facts : IntakeFacts
        Bottles handed up, given back, poured and lost, and what was noted as drunk.

    Returns
    -------
    IntakeEstimate
        Derived is handed up less came back, poured and lost; without a bottle handed up it does not exist and shows
        zero with the spread of knowing nothing, as do the notes when there are none.

    Raises
    ------
    UnphysicalInput
        If a volume is negative or not finite, or evidence is missing or unknown.

    Notes
    -----
    Lines that agree within two spreads are weighed by inverse variance. Where they do not, the better evidence gives
    the number (weighed, counted, tapped, recalled) and the spread widens to reach the other.

    References
    ----------
    .. [1] Source key ``reconciliation``.

    Examples
    --------
    >>> estimate = drunk_from_facts(IntakeFacts(handed_up_l=(0.5, 0.5), came_back_l=(0.2,),
    ...                                         came_back_evidence=("weighed",)))
    >>> round(estimate.proposed_l, 2), estimate.evidence
    (0.8, 'weighed')
    """
    derived, noted = _derived(facts), _noted(facts)
    lines = [line for line in (derived, noted) if line is not None]
    unknown = _Line(0.0, k.NOTHING_NOTED_SD_L, "default")
    proposed, is_in_agreement = _together(lines) if lines else (unknown, True)
    derived, noted = derived or unknown, noted or unknown
    return IntakeEstimate(
        derived_l=derived.value_l,
        derived_sd_l=derived.sd_l,
        noted_l=noted.value_l,
        noted_sd_l=noted.sd_l,
        proposed_l=max(0.0, proposed.value_l),
        proposed_sd_l=proposed.sd_l,
        evidence=proposed.evidence,
        is_in_agreement=is_in_agreement,
    )


def _derived(facts: IntakeFacts) -> _Line | None:
    handed_up_l = physical("handed_up_l", facts.handed_up_l, low=0.0)
    came_back_l = physical("came_back_l", facts.came_back_l, low=0.0)
    away_l = np.concatenate([physical("poured_l", facts.poured_l, low=0.0), physical("lost_l", facts.lost_l, low=0.0)])
    evidence = _checked_evidence("came_back_evidence", facts.came_back_evidence, n=came_back_l.size)
    if handed_up_l.size == 0:
        return None
    # A bottle on the scale has neither a guessed fill nor guessed dregs; each other one carries both.
    n_weighed = sum(word == "weighed" for word in evidence)
    not_weighed_l = np.sort(handed_up_l)[: max(0, handed_up_l.size - n_weighed)]
    sds_l = np.concatenate([
        k.BOTTLE_SD_FRAC * not_weighed_l,
        np.array([k.WEIGHED_SD_L if word == "weighed" else k.COUNTED_SD_L for word in evidence], dtype=np.float64),
        k.RECALLED_SD_FRAC * away_l,
    ])
    value_l = float(handed_up_l.sum() - came_back_l.sum() - away_l.sum())
    is_weighed = bool(evidence) and n_weighed == len(evidence)
    return _Line(value_l, _root_sum_square_l(sds_l), "weighed" if is_weighed else "counted")


def _noted(facts: IntakeFacts) -> _Line | None:
    noted_l = physical("noted_l", facts.noted_l, low=0.0)
    evidence = _checked_evidence("noted_evidence", facts.noted_evidence, n=noted_l.size)
    if noted_l.size == 0:
        return None
    spread_frac = {"counted": k.BOTTLE_SD_FRAC, "tapped": k.TAPPED_SD_FRAC}
    sds_l = np.array([
        k.WEIGHED_SD_L if word == "weighed" else spread_frac.get(word, k.RECALLED_SD_FRAC) * volume_l
        for word, volume_l in zip(evidence, noted_l.tolist(), strict=True)
    ])
    return _Line(float(noted_l.sum()), max(_root_sum_square_l(sds_l), k.WEIGHED_SD_L), max(evidence, key=RANKS.index))


def _together(lines: list[_Line]) -> tuple[_Line, bool]:
    best = min(lines, key=lambda line: (RANKS.index(line.evidence), line.sd_l))
    other = lines[0] if lines[-1] is best else lines[-1]
    apart_l = abs(best.value_l - other.value_l)
    if apart_l > k.AGREE_SD * math.hypot(best.sd_l, other.sd_l):
        return _Line(best.value_l, max(best.sd_l, apart_l), best.evidence), False
    precisions = np.array([max(line.sd_l, k.WEIGHED_SD_L) ** -2.0 for line in lines])
    values_l = np.array([line.value_l for line in lines])
    mean_l = float(precisions @ values_l / precisions.sum())
    return _Line(mean_l, float(precisions.sum() ** -0.5), best.evidence), True


def _checked_evidence(name: str, words: tuple[str, ...], *, n: int) -> tuple[str, ...]:
    wrong = tuple(index for index, word in enumerate(words) if word not in RANKS)
    if wrong or len(words) != n:
        raise UnphysicalInput(name, float(len(words)), wrong)
    return words


def _root_sum_square_l(sds_l: FloatArray) -> float:
    return float(np.sqrt(np.square(sds_l).sum()))
