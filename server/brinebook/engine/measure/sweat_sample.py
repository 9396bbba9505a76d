"""Is a forearm sample fit for use, and what does a regional concentration say about the whole body."""

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import cast

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.units import Floats


@dataclass(frozen=True, slots=True)
class SampleQuality:
    """Verdict on one collection: codes say why, the variance says by how much less it counts."""

    is_usable: bool
    codes: tuple[str, ...]
    extra_log_variance: float
    local_rate_mg_per_cm2_min: float


@dataclass(frozen=True, slots=True)
class PairQuality:
    """Verdict on a left and a right arm taken together."""

    is_usable: bool
    codes: tuple[str, ...]
    extra_log_variance: float
    difference_frac: float


STOPS = frozenset({"VOL_LOW", "STORE_FAIL", "RANGE_IMPOSSIBLE", "QC_FAIL"})
CONDUCTIVITY = "conductivity"


def sample_quality(  # noqa: PLR0913 - one argument per line of the sample form
    sodium_mmol_per_l: float,
    *,
    volume_ul: float,
    area_cm2: float,
    collected_min: float,
    started_after_min: float,
    stored_days: float,
    is_sealed: bool,
    method: str,
    remarks: Collection[str] = (),
    analyser_need_ul: float = 0.0,
) -> SampleQuality:
    """
    Verdict on one forearm collection.

    Parameters
    ----------
    sodium_mmol_per_l : float
        Raw regional sodium [mmol/L].
    volume_ul : float
        Sweat collected [uL].
    area_cm2 : float
        Skin under the collector [cm2].
    collected_min : float
        Time on the skin [min].
    started_after_min : float
        Effort before the collection began [min].
    stored_days : float
        Time between collection and reading [days].
    is_sealed : bool
        Whether the tube was airtight.
    method : str
        Analysis, ``"conductivity"`` widens the spread.
    remarks : collection of str
        Codes that hands, calibration or a second reading add, see ``constants.sweat.REMARK_LOG_SDS``.
    analyser_need_ul : float
        Least volume the analyser asks for; a fifth more must be there [uL].

    Returns
    -------
    SampleQuality
        Stops are too little sweat, bad storage, an impossible value and a failed control solution; all else widens
        the log variance.

    Raises
    ------
    UnphysicalInput
        If sodium, volume, area or time is not above zero, a wait is negative, or a remark unknown.

    References
    ----------
    .. [1] Source key ``sample_rules``.
    .. [2] Source key ``clsi_c34``.

    Examples
    --------
    >>> sample_quality(
    ...     58.0, volume_ul=40.0, area_cm2=5.0, collected_min=10.0, started_after_min=20.0,
    ...     stored_days=0.0, is_sealed=True, method="ion_selective",
    ... ).codes
    ()
    """
    for name, value in (("sodium_mmol_per_l", sodium_mmol_per_l), ("volume_ul", volume_ul),
                        ("area_cm2", area_cm2), ("collected_min", collected_min)):
        physical_positive(name, value)
    physical("started_after_min", started_after_min, low=0.0)
    physical("stored_days", stored_days, low=0.0)
    need_ul = k.ANALYSER_RESERVE * float(physical("analyser_need_ul", analyser_need_ul, low=0.0))
    local_rate_mg_per_cm2_min = volume_ul / (area_cm2 * collected_min)
    found = {
        **_rate_codes(local_rate_mg_per_cm2_min),
        **_range_codes(sodium_mmol_per_l),
        **_storage_codes(sodium_mmol_per_l, stored_days=stored_days, is_sealed=is_sealed),
        **_remark_codes(remarks),
    }
    if volume_ul < need_ul:
        found["VOL_LOW"] = 0.0
    if started_after_min < k.FIRST_SWEAT_MIN:
        found["FIRST_SWEAT"] = k.FIRST_SWEAT_LOG_SD
    if method == CONDUCTIVITY:
        found["COND_ONLY"] = k.CONDUCTIVITY_SD_MMOL_PER_L / sodium_mmol_per_l
    variance = math.fsum(log_sd**2 for log_sd in found.values())
    return SampleQuality(not STOPS & set(found), tuple(found), variance, local_rate_mg_per_cm2_min)


def _remark_codes(remarks: Collection[str]) -> dict[str, float]:
    for remark in remarks:
        if remark not in k.REMARK_LOG_SDS:
            raise UnphysicalInput(f"remark {remark}", math.nan)
    return {code: k.REMARK_LOG_SDS[code] for code in sorted(remarks)}


def _rate_codes(rate_mg_per_cm2_min: float) -> dict[str, float]:
    if rate_mg_per_cm2_min < k.LOCAL_RATE_MIN_MG_PER_CM2_MIN:
        return {"VOL_LOW": 0.0}
    if rate_mg_per_cm2_min < k.LOCAL_RATE_LOW_MG_PER_CM2_MIN:
        return {"RATE_LOW": k.RATE_LOG_SD}
    if rate_mg_per_cm2_min > k.LOCAL_RATE_HIGH_MG_PER_CM2_MIN:
        return {"RATE_HIGH": k.RATE_LOG_SD}
    return {}


def _range_codes(sodium_mmol_per_l: float) -> dict[str, float]:
    if sodium_mmol_per_l > k.SODIUM_IMPOSSIBLE_MMOL_PER_L:
        return {"RANGE_IMPOSSIBLE": 0.0}
    if sodium_mmol_per_l > k.SODIUM_REPEAT_MMOL_PER_L:
        return {"RANGE_HIGH": k.RANGE_LOG_SD, "REPEAT": k.RANGE_LOG_SD}
    if sodium_mmol_per_l > k.SODIUM_HIGH_MMOL_PER_L:
        return {"RANGE_HIGH": k.RANGE_LOG_SD}
    if sodium_mmol_per_l < k.SODIUM_LOW_MMOL_PER_L:
        return {"RANGE_LOW": k.RANGE_LOG_SD}
    return {}


def _storage_codes(sodium_mmol_per_l: float, *, stored_days: float, is_sealed: bool) -> dict[str, float]:
    if not is_sealed or stored_days > k.STORED_MAX_DAYS:
        return {"STORE_FAIL": 0.0}
    if stored_days > k.STORED_FRESH_DAYS:
        return {"STORED": k.STORED_SD_MMOL_PER_L / sodium_mmol_per_l}
    return {}


def pair_quality(
    left_mmol_per_l: float, right_mmol_per_l: float, *, methods: tuple[str, str] | None = None
) -> PairQuality:
    """
    Verdict on the agreement of two arms.

    Parameters
    ----------
    left_mmol_per_l : float
        Raw sodium of the left arm [mmol/L].
    right_mmol_per_l : float
        Raw sodium of the right arm [mmol/L].
    methods : tuple of str, optional
        Analysis of the left and of the right arm.

    Returns
    -------
    PairQuality
        Apart by more than 40 %: unusable; 25-40 %: flagged, with the observed spread in place of the usual one.
        Conductivity beside a sodium reading is no pair: ``METHOD_MISMATCH``, unusable.

    Raises
    ------
    UnphysicalInput
        If a concentration is not above zero.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> pair_quality(50.0, 66.0).codes
    ('LR_DIFF',)
    """
    physical_positive("left_mmol_per_l", left_mmol_per_l)
    physical_positive("right_mmol_per_l", right_mmol_per_l)
    low, high = sorted((left_mmol_per_l, right_mmol_per_l))
    difference_frac = high / low - 1.0
    if methods is not None and is_method_mixed(methods):
        return PairQuality(
            is_usable=False, codes=("METHOD_MISMATCH",), extra_log_variance=0.0, difference_frac=difference_frac
        )
    if difference_frac <= k.PAIR_ACCEPT_FRAC or high - low <= k.PAIR_ACCEPT_MMOL_PER_L:
        return PairQuality(is_usable=True, codes=(), extra_log_variance=0.0, difference_frac=difference_frac)
    # One pair's ln ratio has variance 2 s^2 and the mean of two arms s^2 / 2.
    arm_log_variance = math.log(high / low) ** 2 / 2.0
    extra_log_variance = max(0.0, (arm_log_variance - k.ARM_LOG_SD**2) / 2.0)
    is_usable = difference_frac <= k.PAIR_REJECT_FRAC
    return PairQuality(is_usable, ("LR_DIFF",), extra_log_variance, difference_frac)


def is_method_mixed(methods: Collection[str]) -> bool:
    """
    Whether conductivity stands beside methods that read sodium itself.

    Parameters
    ----------
    methods : collection of str
        Analyses of the samples that would be taken together.

    Returns
    -------
    bool
        Conductivity runs 24-27 mmol/L above chloride: such samples are never averaged.

    References
    ----------
    .. [1] Source key ``cf_conductivity``.

    Examples
    --------
    >>> is_method_mixed(["ion_selective", "conductivity"])
    True
    """
    return CONDUCTIVITY in methods and any(method != CONDUCTIVITY for method in methods)


def site_equation(site: str) -> k.SiteEquation:
    """
    Look up the equation of a collection site.

    Parameters
    ----------
    site : str
        ``dorsal_forearm``, ``ventral_forearm``, ``thigh`` or ``five_site``.

    Returns
    -------
    SiteEquation
        Slope, intercept, spread, prior and source.

    Raises
    ------
    UnphysicalInput
        If there is no verified equation for the site.

    References
    ----------
    .. [1] Source key ``baker2016``, ``baker2009``, ``baker2020`` by site.
    """
    if site not in k.SITE_EQUATIONS:
        raise UnphysicalInput(f"site {site}", math.nan)
    return k.SITE_EQUATIONS[site]


def regional_to_whole_body_mmol_per_l(regional_mmol_per_l: Floats, *, site: str) -> Floats:
    """
    Whole-body sweat sodium from a regional one.

    Parameters
    ----------
    regional_mmol_per_l : float or array, shape (n,)
        Raw regional sodium [mmol/L].
    site : str
        Collection site, see ``site_equation``.

    Returns
    -------
    float or array, shape (n,)
        Whole-body sodium [mmol/L]. The ventral forearm is taken as it is: the dorsal equation does not fit it.

    Raises
    ------
    UnphysicalInput
        If a concentration is negative or the site unknown.

    References
    ----------
    .. [1] Source key ``baker2016``.
    .. [2] Source key ``baker2009``.
    .. [3] Source key ``baker2020``.

    Examples
    --------
    >>> round(float(regional_to_whole_body_mmol_per_l(43.6, site="dorsal_forearm")), 1)
    35.9
    """
    equation = site_equation(site)
    regional = physical("regional_mmol_per_l", regional_mmol_per_l, low=0.0)
    return cast("Floats", equation.slope_frac * regional + equation.intercept_mmol_per_l)
