"""May this electrode be believed today: slope, control solutions before and after, and drift in between."""

from collections.abc import Sequence
from dataclasses import dataclass

from brinebook.engine.constants import sweat as k
from brinebook.engine.errors import UnphysicalInput, physical, physical_positive
from brinebook.engine.measure.sample_chemistry import electrode_slope_mv_per_decade


@dataclass(frozen=True, slots=True)
class CalibrationQuality:
    """Verdict on a two-point calibration; ``CAL_DUE`` asks for the next one, ``CAL_SPAN`` for other solutions."""

    codes: tuple[str, ...]
    slope_share_frac: float


@dataclass(frozen=True, slots=True)
class ControlReading:
    """One control solution: what it holds, and what was read before and after the batch."""

    nominal_mmol_per_l: float
    before_mmol_per_l: float
    after_mmol_per_l: float


@dataclass(frozen=True, slots=True)
class ControlQuality:
    """Verdict on a batch; ``drift_frac`` is the mean relative rise from first to last reading."""

    is_usable: bool
    codes: tuple[str, ...]
    worst_frac: float
    drift_frac: float


def calibration_quality(
    slope_mv_per_decade: float,
    *,
    temperature_c: float,
    solutions_mmol_per_l: tuple[float, float],
    n_samples_since: int = 0,
    temperature_change_c: float = 0.0,
) -> CalibrationQuality:
    """
    Verdict on an electrode's calibration.

    Parameters
    ----------
    slope_mv_per_decade : float
        Slope found [mV/decade].
    temperature_c : float
        Temperature of the solutions [C].
    solutions_mmol_per_l : tuple of float
        Low and high calibration solution [mmol/L].
    n_samples_since : int
        Samples read since.
    temperature_change_c : float
        Change of temperature since [C].

    Returns
    -------
    CalibrationQuality
        Codes ``CAL_SLOPE``, ``CAL_SPAN``, ``CAL_DUE``, and the slope as a share of what physics gives.

    Raises
    ------
    UnphysicalInput
        If an input is not finite or a solution not above zero.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> calibration_quality(49.0, temperature_c=25.0, solutions_mmol_per_l=(10.0, 100.0)).codes
    ('CAL_SLOPE',)
    """
    slope = float(physical("slope_mv_per_decade", slope_mv_per_decade))
    low, high = sorted(float(level) for level in physical_positive("solutions_mmol_per_l", solutions_mmol_per_l))
    change_c = abs(float(physical("temperature_change_c", temperature_change_c)))
    is_due = n_samples_since >= k.CALIBRATION_SAMPLES_N or change_c > k.CALIBRATION_CHANGE_C
    found = {
        "CAL_SLOPE": not k.SLOPE_LOW_MV_PER_DECADE <= slope <= k.SLOPE_HIGH_MV_PER_DECADE,
        "CAL_SPAN": low > k.CALIBRATION_LOW_MMOL_PER_L or high < k.CALIBRATION_HIGH_MMOL_PER_L,
        "CAL_DUE": is_due,
    }
    expected = electrode_slope_mv_per_decade(float(physical("temperature_c", temperature_c)))
    return CalibrationQuality(tuple(code for code, is_so in found.items() if is_so), slope / expected)


def control_quality(controls: Sequence[ControlReading]) -> ControlQuality:
    """
    Verdict on a batch from its control solutions.

    Parameters
    ----------
    controls : sequence of ControlReading
        A low and a high solution, each read before and after the batch.

    Returns
    -------
    ControlQuality
        Off by more than 5 %: ``QC_WARN``; by more than 10 %, or drifted by as much: ``QC_FAIL``, unusable. ``DRIFT``
        asks for ``drift_corrected_mmol_per_l``; ``QC_SPAN`` says that the low or the high solution is missing.

    Raises
    ------
    UnphysicalInput
        If there is no control, or a level is not above zero.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> control_quality([ControlReading(25.0, 25.2, 26.1), ControlReading(85.0, 85.5, 88.0)]).codes
    ()
    """
    if not controls:
        raise UnphysicalInput("n_controls", 0.0)
    nominal, before, after = (
        physical_positive(name, [getattr(control, name) for control in controls])
        for name in ("nominal_mmol_per_l", "before_mmol_per_l", "after_mmol_per_l")
    )
    worst = float(max(abs(before / nominal - 1.0).max(), abs(after / nominal - 1.0).max()))
    drifts = (after - before) / nominal
    drift = float(abs(drifts).max())
    has_span = all(
        ((nominal >= low) & (nominal <= high)).any()
        for low, high in (k.CONTROL_LOW_MMOL_PER_L, k.CONTROL_HIGH_MMOL_PER_L)
    )
    is_usable = max(worst, drift) <= k.CONTROL_STOP_FRAC
    found = {
        "QC_FAIL": not is_usable,
        "QC_WARN": is_usable and worst > k.CONTROL_ACCEPT_FRAC,
        "DRIFT": is_usable and drift > k.CONTROL_ACCEPT_FRAC,
        "QC_SPAN": not has_span,
    }
    codes = tuple(code for code, is_so in found.items() if is_so)
    return ControlQuality(is_usable, codes, worst, float(drifts.mean()))


def drift_corrected_mmol_per_l(reading_mmol_per_l: float, *, drift_frac: float, place_frac: float) -> float:
    """
    Sodium without the electrode's drift, taken as a straight line over the batch.

    Parameters
    ----------
    reading_mmol_per_l : float
        Sodium as read [mmol/L].
    drift_frac : float
        Relative rise from first to last control [frac].
    place_frac : float
        Where in the batch the sample stood, 0-1 [frac].

    Returns
    -------
    float
        Sodium [mmol/L].

    Raises
    ------
    UnphysicalInput
        If the reading is not above zero or the place outside the batch.

    References
    ----------
    .. [1] Source key ``sample_rules``.

    Examples
    --------
    >>> round(drift_corrected_mmol_per_l(54.0, drift_frac=0.08, place_frac=1.0), 1)
    50.0
    """
    place = float(physical("place_frac", place_frac, low=0.0, high=1.0))
    drift = float(physical("drift_frac", drift_frac, low=-0.5, high=0.5))
    return float(physical_positive("reading_mmol_per_l", reading_mmol_per_l)) / (1.0 + drift * place)
