"""A small made-up team on a live server: two riders, two stages, sweat tests, published plans."""

from typing import Any

from support.live import Client, LiveServer

from seed_demo.courses import gpx_text
from seed_demo.pantry import COUNTED, DRINKS, FOODS, KIT, SUPPLIES
from seed_demo.race import instant_ms, stage_record, stages
from seed_demo.squad import RIDERS
from seed_demo.weather import forecast_csv

RIDER, MATE = RIDERS[0].id, RIDERS[1].id
STAGE, NEXT_STAGE = stages()[0].id, stages()[1].id


def put(admin: Client, path: str, record: dict[str, Any]) -> None:
    """Create one edited record."""
    admin.http.put(f"/api/{path}/{record['id']}", json={**record, "version": 0}).raise_for_status()


def sample(side: str, sodium_mmol_per_l: float) -> dict[str, Any]:
    """Collect forearm sweat from one arm."""
    return {
        "site": "dorsal_forearm", "side": side, "sodium_mmol_per_l": sodium_mmol_per_l, "volume_ul": 90.0,
        "area_cm2": 5.0, "collected_min": 30.0, "started_after_min": 25.0,
    }


def make_team(server: LiveServer, *, n_riders: int = 2) -> Client:
    """Enter the team and its race; return the admin's device."""
    admin = Client(server.base_url, server.invite_admin())
    for stage in stages()[:2]:
        put(admin, "stages", stage_record(stage))
        admin.http.post(f"/api/stages/{stage.id}/course", content=gpx_text(stage)).raise_for_status()
        admin.http.post(f"/api/stages/{stage.id}/forecast", content=forecast_csv(stage, "early")).raise_for_status()
    for supply in SUPPLIES:
        put(admin, "supplies", supply)
    put(admin, "kits", KIT)
    for drink in DRINKS:
        put(admin, "drinks", drink)
    for food in FOODS:
        put(admin, "foods", food)
    for card in RIDERS[:n_riders]:
        put(admin, "riders", card.rider())
        put(admin, "rider-bodies", card.body())
    admin.settled()
    facts = [
        {**admin.fact("sweat_sample", card.id, sample(side, 60.0)), "at_ms": instant_ms(-4, "09:00")}
        for card in RIDERS[:n_riders]
        for side in ("left", "right")
    ]
    facts += [
        {**admin.fact("stock_counted", admin.team_id, {"item_id": id_, "n_amount": n}), "at_ms": instant_ms(0, "18:00")}
        for id_, n in COUNTED.items()
    ]
    assert {verdict["status"] for verdict in admin.exchange(*facts)} == {"ok"}
    admin.settled()
    admin.http.post(f"/api/stages/{STAGE}/publish", json={}).raise_for_status()
    admin.settled()
    return admin


def rider_link(admin: Client, server: LiveServer, rider_id: str = RIDER) -> str:
    """Invite a rider; return the address a phone opens."""
    card = next(card for card in RIDERS if card.id == rider_id)
    return f"{server.base_url}/#/join/{admin.invite(role='rider', name=card.name, rider_id=rider_id)}"


def staff_link(admin: Client, server: LiveServer, role: str, name: str) -> str:
    """Invite a member of staff; return the address a device opens."""
    return f"{server.base_url}/#/join/{admin.invite(role=role, name=name)}"
