"""The Lane: two kerbs, twenty dots, one word."""

from statistics import NormalDist
from typing import Literal

LaneWord = Literal["dry", "in_lane", "wet", "cant_tell", "nothing_noted"]

N_DOTS = 20
N_CROSSING = 3
DRY_FRAC_WARM = 0.02
DRY_FRAC_COOL = 0.03
COOL_BELOW_C = 15.0
MIDDLE_SIZE_KG = 70.0
SIZE_STEP_KG = 12.0


def dry_limit_l(mass_kg: float, *, air_temperature_max_c: float) -> float:
    """Return the deficit at which a stage ends on the dry side [L]."""
    return mass_kg * (DRY_FRAC_COOL if air_temperature_max_c < COOL_BELOW_C else DRY_FRAC_WARM)


def size_kg(mass_kg: float) -> float:
    """
    Return the middle of a body's size class [kg]: light, middle, heavy, twelve kilograms apart.

    Whoever may see litres but no mass gets kerbs of the class: 2 % of it is never further than 0.12 L from the body's
    own, and however many stages are put together, no more than the class follows.
    """
    return MIDDLE_SIZE_KG + SIZE_STEP_KG * round((mass_kg - MIDDLE_SIZE_KG) / SIZE_STEP_KG)


def kerbs_l(sweat_quantiles_l: tuple[float, float], *, limit_l: float) -> tuple[float, float]:
    """
    Return the intakes [L] between which a stage ends in the lane, from the 10 and 50 % quantiles of its loss.

    The wet kerb stands at the smaller loss, for drinking above losses can harm more than a mild deficit; when the
    spread is so wide that the two would cross, both stand at the wet kerb and the word can only be "can't tell".
    """
    wet_l, middle_l = sweat_quantiles_l
    return min(max(0.0, middle_l - limit_l), wet_l), wet_l


def lane_word(mean: float, *, sd: float, low: float, high: float) -> LaneWord:
    """Let twenty equally likely ends fall beside or between the kerbs and say on which side most of them lie."""
    spread = NormalDist(mean, max(sd, 1e-6))
    dots = [spread.inv_cdf((index + 0.5) / N_DOTS) for index in range(N_DOTS)]
    n_dry, n_wet = sum(dot < low for dot in dots), sum(dot > high for dot in dots)
    if min(n_dry, n_wet) >= N_CROSSING:
        return "cant_tell"
    if n_dry > N_DOTS // 2:
        return "dry"
    return "wet" if n_wet > N_DOTS // 2 else "in_lane"
