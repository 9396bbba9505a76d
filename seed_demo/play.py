"""Rides the whole race against the live server over HTTP: a squad with hidden bodies, phones that lose the network."""

import time
from collections import Counter
from typing import Any

from seed_demo import report
from seed_demo.bootstrap import say
from seed_demo.devices import Api, Device
from seed_demo.load import invite_link
from seed_demo.race import stages
from seed_demo.stage_day import RiderDay, StageDay
from seed_demo.team import TeamDevices


def _audit_events(team: TeamDevices) -> dict[str, Any]:
    """Let a device that never saw a fact before pull all of them, and compare with what was made."""
    fresh: Device = team.join("doctor", "doctor's tablet")
    fresh.exchange()
    fresh.api.close()
    stored = Counter(event_id for event_id in fresh.events)
    sequence = [seq for seq, _ in fresh.events.values()]
    made = team.made_ids()
    return {
        "events_stored": sum(event_id in stored for event_id in made),
        "events_lost": len(made - set(stored)), "events_doubled": fresh.n_doubled,
        "events_in_store_with_seed": len(stored),
        "sequence_gaps": max(sequence, default=0) - len(set(sequence)),
    }


def play(base_url: str, admin_token: str, *, n_stages: int | None = None) -> dict[str, Any]:
    """Ride the race, or its first stages, and return the report."""
    began = time.monotonic()
    team = TeamDevices(base_url, Api(base_url, admin_token), invite_link)
    team.join_all()
    team.sync()
    residual_kg: dict[str, float] = {}
    days: list[RiderDay] = []
    seconds: list[float] = []
    for stage in stages()[:n_stages]:
        since = time.monotonic()
        days += StageDay(team, stage, residual_kg).run()
        seconds.append(time.monotonic() - since)
        say(f"stage {stage.number:2d} of {len(stages())}, {stage.kind}: ridden and settled in {seconds[-1]:.1f} s")
    rows = [report.row(day) for day in days]
    wall_s = time.monotonic() - began
    told = {
        "rows": rows, "weeks": report.weeks(rows), "riders": report.riders(days),
        "totals": {
            **team.totals(), **_audit_events(team), "wall_s": round(wall_s, 1),
            "slowest_stage_s": round(max(seconds), 1),
        },
        "planted_trouble": report.noticed(days), "forecast_audit": report.server_audit(team.by_key["physiologist"]),
    }
    team.close()
    return told
