"""The published table of runners' sweat, for testing code only: never predict a cyclist with it."""

from brinebook.engine.constants import balance as c
from brinebook.engine.errors import finite


def running_sweat_l_per_h(mass_kg: float, *, speed_km_per_h: float, is_warm: bool) -> float:
    """
    Sweat rate of a runner, for testing code only.

    Parameters
    ----------
    mass_kg : float
        Body mass [kg].
    speed_km_per_h : float
        Running speed [km/h].
    is_warm : bool
        28 C rather than 18 C.

    Returns
    -------
    float
        Sweat rate [L/h].

    Raises
    ------
    UnphysicalInput
        If an input is not a finite number.

    References
    ----------
    .. [1] Own fit of the table printed in Source key ``mosler2020``, modelled in Source key ``montain2006``.

    Examples
    --------
    >>> round(running_sweat_l_per_h(70.0, speed_km_per_h=10.0, is_warm=False), 2)
    0.79
    """
    finite(mass_kg=mass_kg, speed_km_per_h=speed_km_per_h)
    per_kg_km, offset, per_kg = c.RUNNING_WARM if is_warm else c.RUNNING_COOL
    return per_kg_km * mass_kg * speed_km_per_h + offset + per_kg * mass_kg
