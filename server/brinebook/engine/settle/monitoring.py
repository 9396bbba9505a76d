"""Morning check: three weak markers counted together."""

from dataclasses import dataclass

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import physical

WORDS = ("unlikely", "possible", "likely", "very_likely")


@dataclass(frozen=True, slots=True)
class MorningResult:
    """Positive markers of three, the word for dehydration, and whether mass rose beyond the band."""

    n_positive: int
    word: str
    is_mass_up: bool


def morning_check_count(mass_change_frac: float, urine_colour: int | None, thirst: int | None) -> MorningResult:
    """
    Count the morning markers that speak for dehydration.

    Parameters
    ----------
    mass_change_frac : float
        Morning mass against baseline, a loss negative [frac].
    urine_colour : int or None
        Colour on the 8-point chart; None counts as negative.
    thirst : int or None
        Thirst on the scale 1-9; None counts as negative.

    Returns
    -------
    MorningResult
        Word is one of unlikely, possible, likely, very_likely. A mass above the band is a flag of its own.

    Raises
    ------
    UnphysicalInput
        If the mass change is not finite or beyond a half.

    References
    ----------
    .. [1] Source key ``wut2005``.

    Examples
    --------
    >>> morning_check_count(-0.012, 6, 5).word
    'very_likely'
    """
    change_frac = float(physical("mass_change_frac", mass_change_frac, low=-0.5, high=0.5))
    positives = (
        change_frac < -k.MORNING_MASS_FRAC,
        urine_colour is not None and urine_colour > k.URINE_COLOUR_ABOVE,
        thirst is not None and thirst >= k.THIRST_FROM,
    )
    return MorningResult(sum(positives), WORDS[sum(positives)], is_mass_up=change_frac > k.MORNING_MASS_FRAC)
