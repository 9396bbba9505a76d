"""A settled stage's totals, taken before the facts it was settled from go by age."""

from collections.abc import Iterable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import msgspec

from brinebook.planning.stale import STAGE_KINDS
from brinebook.records.derived import Settlement
from brinebook.records.edited import Stage
from brinebook.records.facts import Event
from brinebook.records.kept import StageTotal
from brinebook.storage.repository import NewDocument, Repository

TOTAL = "stage_total"
Place = tuple[str, str]
"""Rider and stage."""


def _day_of(stage: Stage) -> str:
    started = datetime.fromtimestamp(stage.start_at_ms / 1000.0, UTC)
    return started.astimezone(ZoneInfo(stage.time_zone)).date().isoformat()


def total_of(settlement: Settlement, stage: Stage | None) -> StageTotal:
    """Take a settlement's totals; a stage that was removed since leaves no name and no day."""
    drunk_l = settlement.proposed_drunk_l if settlement.agreed_drunk_l is None else settlement.agreed_drunk_l
    return StageTotal(
        id=f"{TOTAL}:{settlement.rider_id}:{settlement.stage_id}", rider_id=settlement.rider_id,
        stage_id=settlement.stage_id, stage_number=settlement.stage_number, lane=settlement.lane,
        stage_name="" if stage is None else stage.name, day="" if stage is None else _day_of(stage),
        drunk_l=drunk_l, drunk_sd_l=settlement.drunk_sd_l, sweat_loss_l=settlement.sweat_loss_l,
        sweat_loss_sd_l=settlement.sweat_loss_sd_l, sodium_drunk_mg=settlement.sodium_drunk_mg,
        sodium_lost_mg=settlement.sodium_lost_mg,
    )


def places_of(bodies: Iterable[bytes]) -> set[Place]:
    """Name the rider-stages that these facts were part of settling."""
    events = (msgspec.json.decode(body, type=Event) for body in bodies)
    return {(event.subject_id, event.stage_id) for event in events if event.stage_id}


def totals_due(repository: Repository, team_id: str, places: Iterable[Place]) -> list[StageTotal]:
    """Give the totals that are not kept yet, of those places that are settled."""
    found: list[StageTotal] = []
    for rider_id, stage_id in sorted(places):
        stored = repository.document(team_id, f"settlement:{rider_id}:{stage_id}")
        if stored is None or stored.body is None or repository.document(team_id, f"{TOTAL}:{rider_id}:{stage_id}"):
            continue
        settlement = msgspec.json.decode(stored.body, type=Settlement)
        if settlement.state == "settled":
            found.append(total_of(settlement, repository.edited(team_id, Stage, stage_id)))
    return found


def total_documents(totals: Iterable[StageTotal]) -> list[NewDocument]:
    """Wrap totals for the store, each about its rider."""
    return [
        NewDocument(id=one.id, type=TOTAL, subject_id=one.rider_id, body=msgspec.json.encode(one)) for one in totals
    ]


SETTLED_FROM = STAGE_KINDS
"""Facts of these kinds make a settlement: the first of a stage to go takes its totals along."""
