"""The road as the heat model needs it: segments of about five minutes, with power, air, wind and sun."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinebook.engine.validity import Violation


@dataclass(frozen=True, eq=False)
class SegmentTable:
    """A stage cut into n segments; every array has shape (n,). Kilometres count from the real start."""

    start_km: NDArray[np.float64]
    end_km: NDArray[np.float64]
    elapsed_h: NDArray[np.float64]
    """Hours since the real start, at the end of each segment."""
    duration_h: NDArray[np.float64]
    power_w: NDArray[np.float64]
    speed_m_per_s: NDArray[np.float64]
    elevation_m: NDArray[np.float64]
    slope_frac: NDArray[np.float64]
    air_temperature_c: NDArray[np.float64]
    relative_humidity_frac: NDArray[np.float64]
    air_speed_m_per_s: NDArray[np.float64]
    """Mean air speed past the rider, shelter of the group included."""
    radiant_temperature_c: NDArray[np.float64]
    solar_w_per_m2: NDArray[np.float64]
    diffuse_w_per_m2: NDArray[np.float64]
    direct_normal_w_per_m2: NDArray[np.float64]
    sun_elevation_deg: NDArray[np.float64]
    scale_factor: float = 1.0
    """Scheduled over modelled riding time; 1 when no schedule is known."""
    violations: tuple[Violation, ...] = ()
