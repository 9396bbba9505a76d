"""From what the electrode read to what the skin gave: dilution, background, salt on the skin, evaporation."""

import math
from dataclasses import dataclass

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.measure.sample_chemistry import skin_salt_error_mmol_per_l


@dataclass(frozen=True, slots=True)
class CorrectedSodium:
    """Sodium of the sweat as it left the skin, with spread; the reading stays with its sample."""

    sodium_mmol_per_l: float
    sodium_sd_mmol_per_l: float
    dilution_frac: float


def corrected_sodium(  # noqa: PLR0913 - one argument per line of the laboratory form
    reading_mmol_per_l: float,
    *,
    volume_ul: float,
    reading_sd_mmol_per_l: float = 0.0,
    volume_sd_ul: float = 0.0,
    diluent_ul: float = 0.0,
    diluent_sd_ul: float = 0.0,
    background_mg: float = 0.0,
    evaporated_frac: float = 0.0,
    evaporated_sd_frac: float = 0.0,
) -> CorrectedSodium:
    """
    Sodium of a sample without what handling did to it.

    Parameters
    ----------
    reading_mmol_per_l : float
        Sodium as read [mmol/L].
    volume_ul : float
        Sweat in the sample [uL].
    reading_sd_mmol_per_l : float
        Spread of the reading [mmol/L].
    volume_sd_ul : float
        Spread of the sweat volume [uL].
    diluent_ul : float
        Water added before reading [uL].
    diluent_sd_ul : float
        Spread of it [uL].
    background_mg : float
        Sodium of blank patch, tube and unrinsed skin [mg].
    evaporated_frac : float
        Share of the sweat's water lost before reading [frac].
    evaporated_sd_frac : float
        Spread of it [frac].

    Returns
    -------
    CorrectedSodium
        The volume is that in the tube, so evaporation is taken off last.

    Raises
    ------
    UnphysicalInput
        If an input is negative, the volume not above zero, or the background holds more than the sample.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> fixed = corrected_sodium(25.0, volume_ul=50.0, diluent_ul=50.0, background_mg=0.005, evaporated_frac=0.05)
    >>> round(fixed.sodium_mmol_per_l, 2)
    43.37
    """
    for name, value in (("reading_sd_mmol_per_l", reading_sd_mmol_per_l), ("volume_sd_ul", volume_sd_ul),
                        ("diluent_ul", diluent_ul), ("diluent_sd_ul", diluent_sd_ul),
                        ("background_mg", background_mg), ("evaporated_sd_frac", evaporated_sd_frac)):
        physical(name, value, low=0.0)
    volume = float(physical_positive("volume_ul", volume_ul))
    left_frac = 1.0 - float(physical("evaporated_frac", evaporated_frac, low=0.0, high=0.99))
    dilution_frac = (volume + diluent_ul) / volume
    in_tube = float(physical_positive("reading_mmol_per_l", reading_mmol_per_l)) * dilution_frac
    own = in_tube - skin_salt_error_mmol_per_l(background_mg, volume_ul=volume)
    if own <= 0.0:
        raise UnphysicalInput("background_mg", background_mg)
    in_tube_sd = in_tube * math.hypot(
        reading_sd_mmol_per_l / reading_mmol_per_l, _dilution_sd_frac(dilution_frac, volume, volume_sd_ul, diluent_ul,
                                                                      diluent_sd_ul)
    )
    return CorrectedSodium(own * left_frac, math.hypot(in_tube_sd * left_frac, own * evaporated_sd_frac), dilution_frac)


def _dilution_sd_frac(
    dilution_frac: float, volume_ul: float, volume_sd_ul: float, diluent_ul: float, diluent_sd_ul: float
) -> float:
    if diluent_ul == 0.0:
        return 0.0
    share = (dilution_frac - 1.0) / dilution_frac
    return share * math.hypot(volume_sd_ul / volume_ul, diluent_sd_ul / diluent_ul)


def duplicate_reading(readings_mmol_per_l: tuple[float, ...]) -> tuple[float, tuple[str, ...]]:
    """
    One value from two or three readings of the same sample.

    Parameters
    ----------
    readings_mmol_per_l : tuple of float
        Two readings, or three when the first two disagreed [mmol/L].

    Returns
    -------
    tuple
        Mean of two, or median of three [mmol/L], and the codes: ``DUP_READ`` asks for a third reading.

    Raises
    ------
    UnphysicalInput
        If there are not two or three readings, or one is not above zero.

    References
    ----------
    .. [1] Source key ``goulet2017``.

    Examples
    --------
    >>> duplicate_reading((50.0, 56.0))
    (53.0, ('DUP_READ',))
    >>> duplicate_reading((50.0, 56.0, 51.0))
    (51.0, ())
    """
    readings = sorted(float(reading) for reading in physical_positive("readings_mmol_per_l", readings_mmol_per_l))
    if len(readings) == 3:  # noqa: PLR2004 - the third reading decides
        return readings[1], ()
    if len(readings) != 2:  # noqa: PLR2004 - a pair
        raise UnphysicalInput("n_readings", float(len(readings)))
    mean = sum(readings) / 2.0
    limit = max(k.DUPLICATE_FRAC * mean, k.DUPLICATE_MMOL_PER_L)
    return mean, ("DUP_READ",) if readings[1] - readings[0] > limit else ()
