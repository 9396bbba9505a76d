"""Seeds the invented squad and race through the API, as staff would; what is there already stays as it is."""

from typing import Any

from seed_demo.bootstrap import say
from seed_demo.courses import gpx_text
from seed_demo.devices import Api, Device, PlayProblem
from seed_demo.pantry import COUNTED, DRINKS, FOODS, KIT, PALATES, SUPPLIES
from seed_demo.physiology import TestRide, forearm_arms, test_ride
from seed_demo.race import REST_DAYS, instant_ms, rest_day_record, stage_record, stages
from seed_demo.squad import RIDERS, STAFF, RiderCard
from seed_demo.weather import forecast_csv

TEST_DAY_INDEX = -4
"""Sweat day: five days before the first stage."""
LINK_KEYS = ("physiologist", "soigneur-1", "car", "coach", "doctor")
Documents = dict[str, dict[str, Any]]


def _put(api: Api, known: Documents, kind: str, path: str, record: dict[str, Any]) -> None:
    if f"{kind}:{record['id']}" not in known:
        api.call("PUT", f"/api/{path}/{record['id']}", json={**record, "version": 0})


def _put_squad(api: Api, known: Documents) -> None:
    for card in RIDERS:
        _put(api, known, "rider", "riders", card.rider())
        _put(api, known, "rider_body", "rider-bodies", card.body())
    for supply in SUPPLIES:
        _put(api, known, "supply", "supplies", supply)
    for drink in DRINKS:
        _put(api, known, "drink", "drinks", drink)
    for food in FOODS:
        _put(api, known, "food", "foods", food)
    for palate in PALATES:
        _put(api, known, "rider_palate", "rider-palates", palate)
    _put(api, known, "kit", "kits", KIT)


def _put_race(api: Api, known: Documents) -> None:
    for index in range(len(REST_DAYS)):
        _put(api, known, "stage", "stages", rest_day_record(index))
    for stage in stages():
        _put(api, known, "stage", "stages", stage_record(stage))
        body = known.get(f"stage:{stage.id}", {}).get("body") or {}
        if not body.get("course"):
            api.call("POST", f"/api/stages/{stage.id}/course", content=gpx_text(stage))
        if not body.get("forecast"):
            api.call("POST", f"/api/stages/{stage.id}/forecast", content=forecast_csv(stage, "early"))


def _sample_bodies(card: RiderCard) -> list[dict[str, Any]]:
    return [
        {
            "site": "dorsal_forearm", "side": side, "sodium_mmol_per_l": round(sodium, 1), "volume_ul": 120.0,
            "area_cm2": 11.0, "collected_min": 12.0, "started_after_min": 20.0,
        }
        for side, sodium in zip(("left", "right"), forearm_arms(card.id), strict=True)
    ]


def _ride_body(ride: TestRide) -> dict[str, Any]:
    return {
        "mass_before_kg": round(ride.mass_before_kg, 2), "mass_after_kg": round(ride.mass_after_kg, 2),
        "fluid_drunk_l": ride.fluid_drunk_l, "duration_h": ride.duration_h, "power_w": ride.power_w,
        "air_temperature_c": ride.air_temperature_c, "relative_humidity_frac": ride.relative_humidity_frac,
        "air_speed_m_per_s": ride.air_speed_m_per_s, "solar_w_per_m2": ride.solar_w_per_m2,
    }


def _log_sweat_day(device: Device) -> None:
    """Log both arms and a weighed ride of each rider who has none yet."""
    tested = {event["subject_id"] for _, event in device.events.values() if event["kind"] == "sweat_sample"}
    for index, card in enumerate(RIDERS):
        if card.id in tested:
            continue
        at_ms = instant_ms(TEST_DAY_INDEX, "09:00") + index * 600_000
        for body in _sample_bodies(card):
            device.fact("sweat_sample", card.id, body, at_ms=at_ms)
        device.fact("weighed_ride", card.id, _ride_body(test_ride(card.id)), at_ms=at_ms + 9_000_000)
    _count_the_truck(device)
    device.exchange()
    if device.tally.rejected:
        raise PlayProblem(f"the server refused a seeded test: {device.tally.rejected[0]}")


def _count_the_truck(device: Device) -> None:
    """Count supplies and foods once, the evening before the race."""
    counted = {event["body"]["item_id"] for _, event in device.events.values() if event["kind"] == "stock_counted"}
    for item_id, n_amount in COUNTED.items():
        if item_id not in counted:
            body = {"item_id": item_id, "n_amount": n_amount}
            device.fact("stock_counted", device.team_id, body, at_ms=instant_ms(0, "18:00"))


def invite_link(api: Api, key: str) -> str:
    """Make a one-use sign-in link for a rider (by id) or a member of staff (by key)."""
    for card in RIDERS:
        if card.id == key:
            wanted: dict[str, Any] = {"role": "rider", "name": card.name, "rider_id": card.id}
            break
    else:
        staff = next(card for card in STAFF if card.key == key)
        wanted = {"role": staff.role, "name": staff.name}
        known = [member for member in api.call("GET", "/api/invites") if member["name"] == staff.name]
        if known:
            wanted["member_id"] = known[0]["id"]
    link: str = api.call("POST", "/api/invites", json=wanted)["link"]
    return link


def seed(base_url: str, admin_token: str) -> dict[str, str]:
    """Enter squad, race and sweat tests unless they are there; return one sign-in link per role."""
    api = Api(base_url, admin_token)
    me = api.call("GET", "/api/me")
    device = Device(base_url, {**me, "token": admin_token}, seed="seed")
    device.exchange()
    # The race first: while there is no rider there is nothing to forecast, so the files go in fast.
    _put_race(api, device.documents)
    _put_squad(api, device.documents)
    _log_sweat_day(device)
    api.call("GET", "/api/health?wait=recompute")
    links = {"rider": invite_link(api, RIDERS[0].id)}
    links |= {key.partition("-")[0]: invite_link(api, key) for key in LINK_KEYS}
    device.api.close()
    api.close()
    say(f"{len(RIDERS)} riders, {len(STAFF)} staff, {len(stages())} stages are in the books")
    return links
