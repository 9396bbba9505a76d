"""Whole-body sodium when a day's samples come from different sites: each by its own equation, then weighed."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput
from brinebook.engine.measure.sweat_sample import regional_to_whole_body_mmol_per_l


@dataclass(frozen=True, slots=True)
class WholeBodySodium:
    """Whole-body sweat sodium, its spread, and how much each site counted."""

    mean_mmol_per_l: float
    sd_mmol_per_l: float
    weights_frac: dict[str, float]


def whole_body_from_sites(regional_mmol_per_l: Mapping[str, float]) -> WholeBodySodium:
    """
    Whole-body sweat sodium from samples of different sites of one day, such as left dorsal and right ventral.

    Parameters
    ----------
    regional_mmol_per_l : mapping of str to float
        Site to raw regional sodium [mmol/L]; ``dorsal_forearm``, ``ventral_forearm`` or ``thigh``.

    Returns
    -------
    WholeBodySodium
        Weighed by the inverse variance of each site's equation. The spread never falls below 6 mmol/L: sites of one
        rider err together.

    Raises
    ------
    UnphysicalInput
        If there is no site, or one without a verified equation and spread.

    References
    ----------
    .. [1] Source key ``baker2020``.
    .. [2] Source key ``baker2016``.

    Examples
    --------
    >>> found = whole_body_from_sites({"dorsal_forearm": 60.0, "ventral_forearm": 48.0})
    >>> round(found.mean_mmol_per_l, 1), found.sd_mmol_per_l
    (46.2, 6.0)
    """
    unknown = [site for site in regional_mmol_per_l if site not in k.SITE_SD_MMOL_PER_L]
    if unknown or not regional_mmol_per_l:
        raise UnphysicalInput(f"site {unknown[0] if unknown else 'none'}", math.nan)
    precisions = {site: k.SITE_SD_MMOL_PER_L[site] ** -2.0 for site in regional_mmol_per_l}
    precision = math.fsum(precisions.values())
    weights = {site: part / precision for site, part in precisions.items()}
    mean = math.fsum(
        weights[site] * float(regional_to_whole_body_mmol_per_l(level, site=site))
        for site, level in regional_mmol_per_l.items()
    )
    return WholeBodySodium(mean, max(k.SITES_SD_MIN_MMOL_PER_L, precision**-0.5), weights)
