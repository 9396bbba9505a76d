"""Has this rider changed, or is it only another day: two tests of one rider against what chance explains."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import stdev

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical_positive
from brinebook.engine.measure.sodium_estimate import SodiumTest, forearm_level_log, noise_log_variance
from brinebook.engine.measure.sweat_sample import is_method_mixed


@dataclass(frozen=True, slots=True)
class SodiumChange:
    """Change from the first test to the second, and the rise and the fall that chance alone explains."""

    change_frac: float
    rise_frac: float
    fall_frac: float
    is_changed: bool


def sodium_change(before: SodiumTest, after: SodiumTest) -> SodiumChange:
    """
    Change of a rider's forearm sodium between two tests of the same site.

    Parameters
    ----------
    before : SodiumTest
        The earlier test.
    after : SodiumTest
        The later test.

    Returns
    -------
    SodiumChange
        Changed when chance explains it in less than 5 % of cases; heat adaptation and effort the tests carry are
        taken off first.

    Raises
    ------
    UnphysicalInput
        If a test cannot be, or one was read as conductivity and the other was not.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.
    .. [2] Source key ``willems2017``.

    Examples
    --------
    >>> change = sodium_change(SodiumTest(0.0, (40.0, 42.0)), SodiumTest(30.0, (62.0, 63.0)))
    >>> round(change.change_frac, 2), round(change.rise_frac, 2), change.is_changed
    (0.52, 0.44, True)
    """
    if is_method_mixed((before.method, after.method)):
        raise UnphysicalInput("method", math.nan)
    change_log = forearm_level_log(after) - forearm_level_log(before)
    reach_log = k.INTERVAL_Z * math.sqrt(noise_log_variance(before) + noise_log_variance(after))
    return SodiumChange(
        change_frac=math.expm1(change_log),
        rise_frac=math.expm1(reach_log),
        fall_frac=math.expm1(-reach_log),
        is_changed=abs(change_log) > reach_log,
    )


def arm_spread_log_sd(pairs_mmol_per_l: Sequence[tuple[float, float]]) -> float:
    """
    Spread of one arm, from a team's own left/right pairs once there are enough of them.

    Parameters
    ----------
    pairs_mmol_per_l : sequence of tuple of float
        Left and right sodium of each pair [mmol/L].

    Returns
    -------
    float
        Spread of one arm [log_sd]; the default while there are fewer than twenty pairs.

    Raises
    ------
    UnphysicalInput
        If a level is not above zero.

    References
    ----------
    .. [1] Source key ``sodium_estimator``.

    Examples
    --------
    >>> arm_spread_log_sd([(50.0, 55.0)])
    0.08
    """
    ratios = [
        math.log(left / right)
        for left, right in (physical_positive("pairs_mmol_per_l", pair).tolist() for pair in pairs_mmol_per_l)
    ]
    return stdev(ratios) / math.sqrt(2.0) if len(ratios) >= k.ARM_PAIRS_N else k.ARM_LOG_SD
