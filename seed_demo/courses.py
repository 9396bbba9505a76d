"""Courses as GPX text, made from the road book: the same bytes each time."""

import math
import random
from itertools import pairwise

from seed_demo.race import ROLLING_M, StageCard

STEP_M = 100.0
EARTH_M = 6_371_008.8
ORIGIN_DEG = (44.6, 4.6)
"""Somewhere in the right climate and time zone; the roads are not there."""
DESCENT_GRADE = 0.058


def waypoints(stage: StageCard) -> list[tuple[float, float]]:
    """List (km, m) where the road tips over: valley, foot, top, valley again."""
    points = [(0.0, stage.valley_m)]
    for climb in stage.climbs:
        foot_km = climb.top_km - climb.length_km
        last_km, last_m = points[-1]
        if last_m > stage.valley_m:
            bottom_km = min(foot_km, last_km + (last_m - stage.valley_m) / (1000.0 * DESCENT_GRADE))
            points.append((bottom_km, last_m - (bottom_km - last_km) * 1000.0 * DESCENT_GRADE))
        if foot_km > points[-1][0]:
            points.append((foot_km, points[-1][1]))
        points.append((climb.top_km, points[-1][1] + climb.gain_m))
    last_km, last_m = points[-1]
    if last_km < stage.length_km:
        bottom_km = min(stage.length_km, last_km + (last_m - stage.valley_m) / (1000.0 * DESCENT_GRADE))
        if bottom_km > last_km:
            points.append((bottom_km, last_m - (bottom_km - last_km) * 1000.0 * DESCENT_GRADE))
        points.append((stage.length_km + 0.01, points[-1][1]))
    return points


def _height_m(points: list[tuple[float, float]], km: float) -> float:
    for (left_km, left_m), (right_km, right_m) in pairwise(points):
        if km <= right_km:
            share = (km - left_km) / (right_km - left_km) if right_km > left_km else 1.0
            return left_m + share * (right_m - left_m)
    return points[-1][1]


def profile(stage: StageCard) -> list[tuple[float, float]]:
    """List (km, m) every 100 m: the waypoints with rolling ground laid over them."""
    rng = random.Random(f"ground-{stage.number}")
    waves = [(rng.uniform(3.5, 9.0), rng.uniform(0, math.tau), rng.uniform(0.4, 1.0)) for _ in range(4)]
    points = waypoints(stage)
    n = round(stage.length_km * 1000.0 / STEP_M)
    made = []
    for index in range(n + 1):
        km = index * STEP_M / 1000.0
        rolling = sum(weight * math.sin(math.tau * km / wave + phase) for wave, phase, weight in waves) / len(waves)
        made.append((km, _height_m(points, km) + ROLLING_M[stage.kind] * 2 * rolling))
    return made


def track(stage: StageCard) -> list[tuple[float, float, float]]:
    """List (latitude, longitude, height [m]) every 100 m along a winding road."""
    rng = random.Random(f"road-{stage.number}")
    latitude, longitude = (degrees + rng.uniform(-0.6, 0.6) for degrees in ORIGIN_DEG)
    heading = rng.uniform(0, math.tau)
    bends = [(rng.uniform(6.0, 40.0), rng.uniform(0, math.tau), rng.uniform(0.2, 0.9)) for _ in range(3)]
    points = []
    for km, elevation_m in profile(stage):
        points.append((latitude, longitude, elevation_m))
        turn = sum(size * math.sin(math.tau * km / wave + phase) for wave, phase, size in bends)
        north_m, east_m = STEP_M * math.cos(heading + turn), STEP_M * math.sin(heading + turn)
        latitude += math.degrees(north_m / EARTH_M)
        longitude += math.degrees(east_m / (EARTH_M * math.cos(math.radians(latitude))))
    return points


def gpx_text(stage: StageCard) -> str:
    """Return the stage's course as a GPX 1.1 track."""
    rows = "\n".join(
        f'<trkpt lat="{latitude:.6f}" lon="{longitude:.6f}"><ele>{elevation_m:.1f}</ele></trkpt>'
        for latitude, longitude, elevation_m in track(stage)
    )
    name = f"Stage {stage.number}: {stage.name}".replace("&", "and")
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="seed_demo" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<trk><name>{name}</name><trkseg>\n{rows}\n</trkseg></trk>\n</gpx>\n"
    )
