"""Small arithmetic around a sample: volumes, electrodes, salts and spreads."""

import math

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import finite, physical, physical_positive
from brinebook.engine.units import CHLORIDE_G_PER_MOL, SODIUM_G_PER_MOL, ZERO_CELSIUS_K


def minimum_volume_ul(area_cm2: float, *, collected_min: float) -> float:
    """
    Least sweat a collection must hold to be read.

    Parameters
    ----------
    area_cm2 : float
        Skin under the collector [cm2].
    collected_min : float
        Time on the skin [min].

    Returns
    -------
    float
        Volume [uL].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``clsi_c34``.

    Examples
    --------
    >>> minimum_volume_ul(5.0, collected_min=30.0)
    15.0
    """
    finite(area_cm2=area_cm2, collected_min=collected_min)
    return k.LOCAL_RATE_MIN_MG_PER_CM2_MIN * area_cm2 * collected_min


def sodium_chloride_g_per_l(sodium_mmol_per_l: float, *, chloride_mmol_per_l: float) -> float:
    """
    Mass of sodium plus chloride in a litre of sweat.

    Parameters
    ----------
    sodium_mmol_per_l : float
        Sodium [mmol/L].
    chloride_mmol_per_l : float
        Chloride [mmol/L].

    Returns
    -------
    float
        Sodium and chloride together [g/L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``iupac_masses``.

    Examples
    --------
    >>> round(sodium_chloride_g_per_l(43.2, chloride_mmol_per_l=31.9), 2)
    2.12
    """
    finite(sodium_mmol_per_l=sodium_mmol_per_l, chloride_mmol_per_l=chloride_mmol_per_l)
    return (sodium_mmol_per_l * SODIUM_G_PER_MOL + chloride_mmol_per_l * CHLORIDE_G_PER_MOL) / 1000.0


def mean_concentration_mmol_per_l(sodium_mmol_per_h: float, *, sweat_rate_l_per_h: float) -> float:
    """
    Sodium of the mean litre of a group, from its mean sodium loss and its mean sweat rate.

    Parameters
    ----------
    sodium_mmol_per_h : float
        Mean sodium loss [mmol/h].
    sweat_rate_l_per_h : float
        Mean sweat rate [L/h].

    Returns
    -------
    float
        Ratio of means [mmol/L]; not the mean of ratios.

    Raises
    ------
    UnphysicalInput
        If the loss is negative or the rate not above zero.

    References
    ----------
    .. [1] Source key ``barnes2019``.

    Examples
    --------
    >>> round(mean_concentration_mmol_per_l(51.7, sweat_rate_l_per_h=1.28), 1)
    40.4
    """
    loss = float(physical("sodium_mmol_per_h", sodium_mmol_per_h, low=0.0))
    return loss / float(physical_positive("sweat_rate_l_per_h", sweat_rate_l_per_h))


def conductivity_equivalent_mmol_per_l(chloride_mmol_per_l: float) -> float:
    """
    Sodium chloride equivalents a conductivity meter reads at a chloride level.

    Parameters
    ----------
    chloride_mmol_per_l : float
        Chloride, 30-60 [mmol/L].

    Returns
    -------
    float
        Sodium chloride equivalents [mmol/L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``cf_conductivity``.

    Examples
    --------
    >>> conductivity_equivalent_mmol_per_l(40.0)
    66.0
    """
    finite(chloride_mmol_per_l=chloride_mmol_per_l)
    return k.CONDUCTIVITY_INTERCEPT_MMOL_PER_L + k.CONDUCTIVITY_SLOPE * chloride_mmol_per_l


def evaporation_error_frac(evaporated_frac: float) -> float:
    """
    Rise of a concentration when water leaves the sample.

    Parameters
    ----------
    evaporated_frac : float
        Share of the water lost [frac].

    Returns
    -------
    float
        Rise of the concentration [frac].

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> evaporation_error_frac(0.2)
    0.25
    """
    lost_frac = float(physical("evaporated_frac", evaporated_frac, low=0.0, high=0.99))
    return lost_frac / (1.0 - lost_frac)


def skin_salt_error_mmol_per_l(residue_mg: float, *, volume_ul: float) -> float:
    """
    Rise of sodium from salt left on the skin.

    Parameters
    ----------
    residue_mg : float
        Sodium on the skin [mg].
    volume_ul : float
        Sweat collected [uL].

    Returns
    -------
    float
        Rise of the concentration [mmol/L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> round(skin_salt_error_mmol_per_l(0.01, volume_ul=100.0), 2)
    4.35
    """
    finite(residue_mg=residue_mg, volume_ul=volume_ul)
    return residue_mg / SODIUM_G_PER_MOL / float(physical_positive("volume_ul", volume_ul)) * 1000.0 * 1000.0


def forearm_sodium_buono2008_mmol_per_l(local_rate_mg_per_cm2_min: float) -> float:
    """
    Forearm sodium expected at a local sweat rate.

    Parameters
    ----------
    local_rate_mg_per_cm2_min : float
        Local sweat rate, 0.25-0.82 [mg/cm2/min].

    Returns
    -------
    float
        Forearm sodium [mmol/L].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``buono2008``.

    Examples
    --------
    >>> round(forearm_sodium_buono2008_mmol_per_l(0.25), 1)
    21.6
    """
    finite(local_rate_mg_per_cm2_min=local_rate_mg_per_cm2_min)
    return k.FOREARM_RATE_SLOPE * local_rate_mg_per_cm2_min + k.FOREARM_RATE_INTERCEPT_MMOL_PER_L


def heat_adaptation_left_frac(without_heat_days: float) -> float:
    """
    Share of a heat adaptation left after days without heat.

    Parameters
    ----------
    without_heat_days : float
        Days since the last heat exposure [days].

    Returns
    -------
    float
        Share left [frac].

    References
    ----------
    .. [1] Source key ``daanen2018``.

    Examples
    --------
    >>> round(heat_adaptation_left_frac(28.0), 3)
    0.492
    """
    days = float(physical("without_heat_days", without_heat_days, low=0.0))
    return math.pow(1.0 - k.HEAT_DECAY_FRAC_PER_DAY, days)


def electrode_slope_mv_per_decade(temperature_c: float) -> float:
    """
    Voltage of a sound sodium electrode per tenfold concentration.

    Parameters
    ----------
    temperature_c : float
        Temperature of the sample [C].

    Returns
    -------
    float
        Slope [mV/decade].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> round(electrode_slope_mv_per_decade(25.0), 1)
    59.2
    """
    finite(temperature_c=temperature_c)
    return k.NERNST_MV_PER_DECADE_K * (temperature_c + ZERO_CELSIUS_K)


def lognormal_parameters(mean: float, *, sd: float) -> tuple[float, float]:
    """
    Log mean and log spread of the log-normal with a given mean and spread.

    Parameters
    ----------
    mean : float
        Mean, above zero, any unit.
    sd : float
        Standard deviation, same unit.

    Returns
    -------
    tuple of float
        Mean and spread of the natural logarithm [log_mean, log_sd].

    Raises
    ------
    UnphysicalInput
        If the mean is not above zero or the spread negative.

    References
    ----------
    .. [1] Moments of the log-normal.

    Examples
    --------
    >>> [round(value, 3) for value in lognormal_parameters(43.6, sd=18.2)]
    [3.695, 0.401]
    """
    ratio = float(physical("sd", sd, low=0.0)) / float(physical_positive("mean", mean))
    log_variance = math.log1p(ratio**2)
    return math.log(mean) - log_variance / 2.0, math.sqrt(log_variance)
