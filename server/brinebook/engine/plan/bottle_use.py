"""What a whole race goes through, broken down to a rider's day."""

from dataclasses import dataclass

from brinebook.engine.errors import physical_positive


@dataclass(frozen=True, slots=True)
class BottleUse:
    """Bottles a race goes through, by team-day and by rider-day."""

    per_team_day_n: float
    per_rider_day_n: float
    volume_l: float


def bottle_use(n_bottles: float, *, n_teams: int, n_days: int, n_riders: int, bottle_l: float) -> BottleUse:
    """
    Bottles of a whole race broken down to a rider's day, to hold a team's own stock against.

    Parameters
    ----------
    n_bottles : float
        Bottles handed out in the whole race.
    n_teams : int
        Teams.
    n_days : int
        Race days.
    n_riders : int
        Riders of a team.
    bottle_l : float
        Volume of one bottle [L].

    Returns
    -------
    BottleUse
        Drunk, poured and given away together; volume per rider-day [L].

    Raises
    ------
    UnphysicalInput
        If a count or the volume is not above zero.

    References
    ----------
    .. [1] Source key ``own_defaults``.

    Examples
    --------
    >>> round(bottle_use(66_000, n_teams=22, n_days=21, n_riders=8, bottle_l=0.55).per_team_day_n)
    143
    """
    physical_positive("n_bottles", n_bottles)
    per_team_day = n_bottles / float(physical_positive("n_teams", n_teams) * physical_positive("n_days", n_days))
    per_rider_day = per_team_day / float(physical_positive("n_riders", n_riders))
    return BottleUse(per_team_day, per_rider_day, per_rider_day * float(physical_positive("bottle_l", bottle_l)))
