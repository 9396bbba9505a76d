"""What every ride format comes down to."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RideRow:
    """One record of a ride; None where the device wrote nothing."""

    at_unix_s: float | None
    power_w: float | None = None
    travelled_m: float | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    elevation_m: float | None = None
