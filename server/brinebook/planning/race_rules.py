"""The sport's dated rules for a stage: feeding windows and heat bands of its day, with the jury's word on top."""

import tomllib
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from importlib.resources import files
from typing import Any
from zoneinfo import ZoneInfo

from msgspec import Struct

from brinebook.engine.plan.race_rules import FeedRules, HeatBands, heat_band, is_feed_allowed
from brinebook.records.derived import Flag
from brinebook.records.edited import Stage

RACE_PROTOCOL = "race_protocol"
HIGHER_BAND = "acsm_2007_acclimatised"


@cache
def _sets(name: str, table: str) -> tuple[dict[str, Any], ...]:
    text = (files("brinebook.rules") / f"{name}.toml").read_text(encoding="utf-8")
    return tuple(sorted(tomllib.loads(text)[table], key=lambda one: one["valid_from"]))


def feed_rules_on(day: date) -> FeedRules:
    """Return the feeding rules in force on a day."""
    found = next(one for one in reversed(_sets("feeding", "rules")) if one["valid_from"] <= day)
    return FeedRules(
        id=found["id"], opens_km=found["opens_km"], closes_to_go_km=found["closes_to_go_km"],
        ban_before_m=found["ban_before_m"], ban_after_m=found["ban_after_m"], roadside=found["roadside"],
        climb_until_m=found["climb_until_m"], zone_spacing_km=tuple(found["zone_spacing_km"]),
    )


def heat_bands_on(day: date, *, prefix: str) -> HeatBands | None:
    """Return the latest set of heat bands of one body in force on a day; None before there was one."""
    found = next((one for one in reversed(_sets("heat", "bands"))
                  if one["id"].startswith(prefix) and one["valid_from"] <= day), None)
    if found is None:
        return None
    return HeatBands(
        found["id"], tuple(found["names"]), tuple(found["from_c"]), found["care_from"], found["alarm_from"]
    )


def is_time_zone(name: str) -> bool:
    """Tell whether a time zone has this name."""
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # unknown; a path that leads out; a folder
        return False
    return True


def stage_day(stage: Stage) -> date:
    """Return the local day of a stage."""
    return datetime.fromtimestamp(stage.start_at_ms / 1000.0, tz=UTC).astimezone(ZoneInfo(stage.time_zone)).date()


def feed_rules_of(stage: Stage) -> FeedRules:
    """Return the rules of a stage's day, with what its jury says instead."""
    rules = feed_rules_on(stage_day(stage))
    if stage.feed_opens_km is not None:
        rules = replace(rules, opens_km=stage.feed_opens_km)
    if stage.feed_closes_to_go_km is not None:
        rules = replace(rules, closes_to_go_km=stage.feed_closes_to_go_km)
    return rules


class RulesTold(Struct, frozen=True, kw_only=True):
    """The rules of a stage's day in figures, before and after its jury's word."""

    id: str
    opens_km: float
    closes_to_go_km: float
    by_date_opens_km: float
    by_date_closes_to_go_km: float
    ban_before_m: float
    ban_after_m: float
    outside: list[str]


def rules_told(stage: Stage) -> RulesTold:
    """Tell the rules of a stage's day, and which of its feed points stand outside them."""
    by_date, rules = feed_rules_on(stage_day(stage)), feed_rules_of(stage)
    kilometres = {flag.value for flag in feed_flags(stage)}
    return RulesTold(
        id=rules.id, opens_km=rules.opens_km, closes_to_go_km=rules.closes_to_go_km,
        by_date_opens_km=by_date.opens_km, by_date_closes_to_go_km=by_date.closes_to_go_km,
        ban_before_m=rules.ban_before_m, ban_after_m=rules.ban_after_m,
        outside=[feed.id for feed in stage.feed_points if feed.kind != "start" and feed.km in kilometres],
    )


def feed_flags(stage: Stage) -> list[Flag]:
    """Name the feeds of a road stage that stand where the rules of its day have none."""
    if stage.kind not in {"flat", "hilly", "mountain"} or len(stage.course) < 2:  # noqa: PLR2004 - a road
        return []
    rules = feed_rules_of(stage)
    length_km = stage.course[-1].distance_km - stage.km0_km
    return [
        Flag(code="feed_outside_rules", severity="note", quantity="feed_km", value=feed.km, detail=rules.id)
        for feed in stage.feed_points
        if feed.kind != "start" and not is_feed_allowed(rules, km=feed.km, kind=feed.kind, length_km=length_km)
    ]


def heat_flags(stage: Stage, wbgt_max_c: float) -> list[Flag]:
    """Say which bands the hottest minute of a stage falls into, where a band asks for care."""
    flags = []
    for prefix in (RACE_PROTOCOL, HIGHER_BAND):
        bands = heat_bands_on(stage_day(stage), prefix=prefix)
        band = None if bands is None else heat_band(wbgt_max_c, bands=bands)
        if band is not None and band.is_care:
            flags.append(Flag(
                code="heat_band" if prefix == RACE_PROTOCOL else "heat_band_medicine",
                severity="caution" if band.is_alarm else "note", quantity="wbgt_max_c", value=wbgt_max_c,
                limit=band.low_c, detail=f"heat_{band.name}",
            ))
    return flags
