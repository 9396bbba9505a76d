"""The invented race: 21 stages and two rest days in 23 days, in places that are on no map."""

import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

from brinebook.records.common import StageKind
from msgspec import convert

TIME_ZONE = "Europe/Paris"
FIRST_DAY = datetime(2026, 7, 4, tzinfo=ZoneInfo(TIME_ZONE))
"""Where the race lies unless it is laid elsewhere: on any day, tests and plays then print the same."""
FIRST_DAY_VARIABLE = "BRINEBOOK_DEMO_FIRST_DAY"
LAST_DAY_INDEX = 23
REST_DAYS = (10, 17)
ZONE_EVERY_KM = 38.0
NO_FEED_LAST_KM = 18.0
HOT_C = 26.5
SPEED_KM_PER_H = {
    "flat": 44.0, "hilly": 41.0, "mountain": 35.5, "time_trial": 48.0, "mountain_time_trial": 24.0,
}
ROLLING_M = {"flat": 17.0, "hilly": 32.0, "mountain": 24.0, "time_trial": 9.0, "mountain_time_trial": 3.0}


@dataclass(frozen=True)
class Climb:
    """One climb by its top; the road falls back to the valley behind it."""

    name: str
    top_km: float
    length_km: float
    grade_frac: float

    @property
    def gain_m(self) -> float:
        """Height gained from foot to top [m]."""
        return self.length_km * 1000.0 * self.grade_frac


@dataclass(frozen=True)
class StageCard:
    """One race day as the road book tells it, and its weather in three numbers."""

    number: int
    day_index: int
    kind: StageKind
    start: str
    finish: str
    length_km: float
    start_clock: str
    valley_m: float
    max_temperature_c: float
    dew_point_c: float
    cloud_frac: float
    climbs: tuple[Climb, ...] = ()

    @property
    def id(self) -> str:
        """Stage id."""
        return f"s-{self.number:02d}"

    @property
    def name(self) -> str:
        """Name as in the road book."""
        return f"{self.start} - {self.finish}"

    @property
    def start_at_ms(self) -> int:
        """Start instant [ms since 1970, UTC]."""
        return instant_ms(self.day_index, self.start_clock)

    @property
    def scheduled_duration_h(self) -> float:
        """Duration of the road book's mean speed [h]."""
        return round(self.length_km / SPEED_KM_PER_H[self.kind], 3)

    @property
    def is_hot(self) -> bool:
        """Tell a day on which riders pour water over their heads."""
        return self.max_temperature_c >= HOT_C

    @property
    def is_against_clock(self) -> bool:
        """Tell a time trial of either kind."""
        return "time_trial" in self.kind


def first_day() -> datetime:
    """Return the day of the first stage: the fixed one, or that of the environment as an ISO date."""
    given = os.environ.get(FIRST_DAY_VARIABLE)
    return FIRST_DAY if not given else datetime.fromisoformat(given).replace(tzinfo=ZoneInfo(TIME_ZONE))


def instant_ms(day_index: int, clock: str) -> int:
    """Return the instant [ms] of a wall-clock time on one day of the race."""
    hours, minutes = (int(part) for part in clock.split(":"))
    at = first_day() + timedelta(days=day_index - 1)
    return int(at.replace(hour=hours, minute=minutes).astimezone(UTC).timestamp() * 1000)


ROAD_BOOK = (
    # kind, start, finish, km, start, valley m, max C, dew point C, cloud, climbs (name, top km, length km, grade)
    ("flat", "Ostrel Mare", "Pellim", 184.0, "13:10", 90, 21, 11, 0.5, (("Cote de Varn", 121, 3.1, 0.045),)),
    ("hilly", "Pellim", "Cassorin", 176.0, "12:40", 180, 20, 10, 0.6, (
        ("Cote du Moulard", 62, 4.6, 0.058), ("Cote de Brenil", 103, 5.2, 0.062), ("Mur de Cassorin", 168, 2.4, 0.083),
    )),
    ("flat", "Cassorin", "Vaudry-sur-Lenne", 201.0, "12:15", 130, 24, 14, 0.5, (("Cote d'Ambrel", 77, 2.8, 0.041),)),
    ("time_trial", "Vaudry-sur-Lenne", "Vaudry-sur-Lenne", 27.4, "14:30", 140, 20, 10, 0.5, ()),
    ("hilly", "Lenne-Pont", "Sarrazel", 168.0, "12:50", 240, 22, 12, 0.6, (
        ("Cote de Prunol", 48, 5.5, 0.055), ("Col de Sarre", 96, 7.4, 0.056), ("Cote de Tirvel", 151, 3.3, 0.071),
    )),
    ("mountain", "Sarrazel", "Plan d'Esquerre", 158.0, "12:05", 420, 27, 13, 0.4, (
        ("Col de Vorge", 58, 11.5, 0.067), ("Col du Tremblay d'En Haut", 104, 13.2, 0.071),
        ("Plan d'Esquerre", 158, 12.4, 0.074),
    )),
    ("flat", "Esquerre-le-Bas", "Montrevin", 193.0, "12:45", 160, 30, 16, 0.2, (("Cote de Lissan", 88, 3.0, 0.044),)),
    ("hilly", "Montrevin", "Aigremorte-les-Puits", 181.0, "12:30", 210, 29, 15, 0.4, (
        ("Cote des Cigales", 55, 4.8, 0.057), ("Cote de Garrel", 112, 6.1, 0.052), ("Cote du Four", 165, 3.6, 0.066),
    )),
    ("mountain", "Aigremorte-les-Puits", "Col d'Astruc", 149.0, "12:20", 380, 22, 12, 0.6, (
        ("Col de Malpertuis", 47, 9.8, 0.066), ("Col de Lauzane", 96, 14.1, 0.069), ("Col d'Astruc", 149, 10.9, 0.078),
    )),
    ("flat", "Brennac", "Tournevire", 172.0, "13:20", 70, 16, 6, 0.9, (("Cote de Senn", 140, 2.2, 0.049),)),
    ("hilly", "Tournevire", "Cormelles-la-Haute", 187.0, "12:25", 150, 14, 4, 0.9, (
        ("Cote de Bordanne", 71, 4.2, 0.055), ("Cote du Guetteur", 124, 5.0, 0.060),
        ("Cote de Cormelles", 186, 2.9, 0.07),
    )),
    ("mountain", "Cormelles-la-Basse", "Saint-Ferrel", 166.0, "11:50", 460, 12, 2, 1.0, (
        ("Col de l'Ourche", 54, 10.4, 0.064), ("Col du Vent Noir", 101, 12.8, 0.068),
        ("Col de Ferrel", 152, 11.1, 0.07),
    )),
    ("flat", "Saint-Ferrel-Gare", "Marsolles", 205.0, "12:10", 110, 20, 10, 0.5, (("Cote de Vannoy", 96, 3.4, 0.04),)),
    ("mountain", "Marsolles", "Les Orgues de Brune", 151.0, "12:15", 410, 22, 12, 0.5, (
        ("Col de Fauverge", 52, 12.0, 0.065), ("Col de Brunelle", 98, 11.2, 0.075), ("Les Orgues", 151, 13.0, 0.071),
    )),
    ("mountain_time_trial", "Orgue-le-Pont", "Balcon de Brune", 16.2, "14:00", 560, 24, 14, 0.4, (
        ("Balcon de Brune", 16.2, 12.6, 0.076),
    )),
    ("hilly", "Rochelaire", "Pont-Ardelle", 174.0, "12:35", 200, 28, 14, 0.4, (
        ("Cote de Malves", 58, 5.1, 0.054), ("Cote des Templets", 108, 6.4, 0.055), ("Cote d'Ardelle", 158, 3.8, 0.064),
    )),
    ("flat", "Pont-Ardelle", "Lacs-de-Sorgue-Vieille", 188.0, "12:40", 85, 30, 16, 0.3, (
        ("Cote de Pise", 70, 2.7, 0.05),
    )),
    ("mountain", "Sorgue-Vieille", "Col de Rastaing", 163.0, "11:55", 440, 27, 13, 0.5, (
        ("Col de Mirande-Haute", 55, 12.2, 0.067), ("Col des Trois Bornes", 108, 14.6, 0.07),
        ("Col de Rastaing", 163, 11.8, 0.077),
    )),
    ("mountain", "Rastaing-Ville", "Val Perdrix", 138.0, "12:30", 520, 21, 11, 0.5, (
        ("Col de Chanterel", 41, 9.2, 0.068), ("Col de Sourdine", 84, 13.5, 0.072), ("Val Perdrix", 138, 10.2, 0.071),
    )),
    ("time_trial", "Perdrix-les-Bains", "Ambrolles", 34.8, "14:15", 260, 21, 11, 0.5, ()),
    ("flat", "Ambrolles", "Halmoret", 118.0, "15:30", 60, 23, 13, 0.5, (("Butte d'Halmoret", 104, 1.2, 0.05),)),
)


@cache
def stages() -> tuple[StageCard, ...]:
    """Return the 21 race days in order."""
    days = [day for day in range(1, len(ROAD_BOOK) + len(REST_DAYS) + 1) if day not in REST_DAYS]
    cards = []
    for index, row in enumerate(ROAD_BOOK):
        kind, start, finish, km, clock, valley, top_c, dew_c, cloud, climbs = row
        cards.append(StageCard(
            number=index + 1, day_index=days[index], kind=convert(kind, StageKind),
            start=start, finish=finish, length_km=km,
            start_clock=clock, valley_m=float(valley), max_temperature_c=float(top_c), dew_point_c=float(dew_c),
            cloud_frac=cloud, climbs=tuple(Climb(*climb) for climb in climbs),
        ))
    return tuple(cards)


def week_of(stage: StageCard) -> int:
    """Return 1, 2 or 3: the weeks that the two rest days part."""
    return 1 + sum(stage.day_index > day for day in REST_DAYS)


def feed_points(stage: StageCard) -> list[dict[str, object]]:
    """List the start, a signed zone about every 38 km, and car windows half way between zones."""
    points: list[dict[str, object]] = [{"id": f"{stage.id}-start", "name": "Start", "kind": "start", "km": 0.0}]
    n_zones = int((stage.length_km - NO_FEED_LAST_KM) // ZONE_EVERY_KM) if not stage.is_against_clock else 0
    for index in range(1, n_zones + 1):
        zone_km = ZONE_EVERY_KM * index
        if index > 1:
            car_km = zone_km - ZONE_EVERY_KM / 2
            car_id, car = f"{stage.id}-car-{index - 1}", f"Car {index - 1}"
            points.append({"id": car_id, "name": car, "kind": "car", "km": car_km})
        points.append({"id": f"{stage.id}-zone-{index}", "name": f"Zone {index}", "kind": "zone", "km": zone_km})
    return points


def stage_record(stage: StageCard) -> dict[str, object]:
    """Return the stage record without course and forecast: those arrive as files."""
    return {
        "id": stage.id, "number": stage.number, "day_index": stage.day_index, "name": stage.name, "kind": stage.kind,
        "start_at_ms": stage.start_at_ms, "time_zone": TIME_ZONE, "scheduled_duration_h": stage.scheduled_duration_h,
        "feed_points": feed_points(stage),
    }


def rest_day_record(index: int) -> dict[str, object]:
    """Return the record of the first (0) or second (1) rest day, numbered like the stage before it."""
    day = REST_DAYS[index]
    number = max(stage.number for stage in stages() if stage.day_index < day)
    return {
        "id": f"rest-{index + 1}", "number": number, "day_index": day, "name": f"Rest day {index + 1}", "kind": "rest",
        "start_at_ms": instant_ms(day, "10:30"), "time_zone": TIME_ZONE,
    }
