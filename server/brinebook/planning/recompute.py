"""Compute again exactly what a change made stale, in order, idempotently, and store it in one transaction."""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import chain

import msgspec

from brinebook.planning.agreement import agreement_of
from brinebook.planning.audit import AUDIT_ID, audit_record
from brinebook.planning.books import open_books
from brinebook.planning.drafts import is_made_of, plan_document
from brinebook.planning.evening import evening_record
from brinebook.planning.guarded import guards_of, is_stopped
from brinebook.planning.publish import document, forecast_basis, forecast_record, profile_record
from brinebook.planning.settlement import settlement_of, summary_of
from brinebook.planning.sheets import missing_cuts, team_sheets, with_cut_ids, with_cuts
from brinebook.planning.stale import OPEN_STAGE_KINDS, STAGE_KINDS, Stale, stale
from brinebook.planning.standing import Race
from brinebook.records.derived import Settlement
from brinebook.storage.errors import NotFound
from brinebook.storage.repository import NewDocument, Repository

N_PLANNED_DAYS = 3
N_RIDERS_AT_ONCE = 2
NOTHING: frozenset[str] = frozenset()
Made = tuple[str, NewDocument | None]


@dataclass(frozen=True)
class Changed:
    """What a commit changed: whose facts of which kinds on which stages, and which edited record types."""

    subject_ids: frozenset[str] = NOTHING
    kinds: frozenset[str] = NOTHING
    stage_ids: frozenset[str] = NOTHING
    edited_types: frozenset[str] = NOTHING


def recompute(repository: Repository, team_id: str, changed: Changed) -> None:
    """Bring all derived records of a team up to date with its facts, as far as a change can have touched them."""
    what = stale(changed.kinds, changed.edited_types)
    if not what.named | what.others:
        return
    race = Race(open_books(repository, team_id))
    what = _narrowed(race, changed, what)
    made, gone, since = [], [], _since(race, changed)

    def made_of(rider_id: str) -> list[Made]:
        types = what.named if rider_id in changed.subject_ids else what.others
        return list(_of_rider(race, rider_id, since, types))

    # The search for a plan runs outside the interpreter lock, so riders side by side use the cores there are.
    with ThreadPoolExecutor(N_RIDERS_AT_ONCE) as pool:
        for id_, one in chain.from_iterable(pool.map(made_of, race.rider_ids)):
            if one is not None:
                made.append(one)
            elif id_ in race.books.stored:
                gone.append(id_)
    if "forecast_audit" in what.named | what.others:
        made += _audit(race, made, gone)
    made += team_sheets(race.books, made, what.named | what.others)
    made += missing_cuts(race.books, made, gone)
    _store(repository, team_id, made, gone)


def plan_stage(repository: Repository, team_id: str, stage_id: str) -> None:
    """Forecast and plan one stage for every rider now, however far ahead it lies."""
    race = Race(open_books(repository, team_id))
    made = [
        one for place in _places(race, stage_id) for rider_id in race.rider_ids
        for one in _forecast_and_plan(race, rider_id, place)
    ]
    made += team_sheets(race.books, made)
    _store(repository, team_id, made, [])


def publish_stage(repository: Repository, team_id: str, stage_id: str) -> list[str]:
    """Publish a stage's plans as they follow from the facts now; return whose. Locked riders are left out."""
    race = Race(open_books(repository, team_id))
    free = [
        (rider_id, place) for place in _places(race, stage_id) for rider_id in race.rider_ids
        if not is_stopped(race.books.bodies[rider_id], guards_of(race.books, rider_id, place))
    ]
    made = [
        one for rider_id, place in free
        for one in (_forecast(race, rider_id, place), plan_document(race, rider_id, place, is_publishing=True))
        if one is not None
    ]
    made += team_sheets(race.books, made)
    _store(repository, team_id, made, [])
    return [rider_id for rider_id, _ in free]


def _places(race: Race, stage_id: str) -> list[int]:
    """Return the stage's place, or none when it has no course or no weather to forecast from."""
    if stage_id not in race.books.index_of_stage:
        raise NotFound("stage", stage_id)
    return [place for place in race.books.race_days if race.books.stages[place].id == stage_id]


def _narrowed(race: Race, changed: Changed, what: Stale) -> Stale:
    """Stop at the settlement when all that came are bottle facts of stages nobody has settled yet."""
    is_open = not changed.edited_types and changed.kinds <= OPEN_STAGE_KINDS and not any(
        agreement_of(race.books, rider_id, stage_id) for rider_id in changed.subject_ids
        for stage_id in changed.stage_ids
    )
    return Stale(named=what.named & {"settlement"}, others=NOTHING) if is_open and changed.stage_ids else what


def _since(race: Race, changed: Changed) -> int:
    """Return the first stage a change can have touched: what was known before it stays as it was."""
    if changed.edited_types or not changed.kinds <= STAGE_KINDS or not changed.stage_ids:
        return 0
    return min(race.books.index_of_stage.get(stage_id, 0) for stage_id in changed.stage_ids)


def _of_rider(race: Race, rider_id: str, since: int, types: frozenset[str]) -> Iterator[Made]:
    """Yield a rider's stale documents; None in place of one that no fact supports any more."""
    for kind, make in MAKERS.items():
        if kind in types:
            yield from make(race, rider_id, since)


def _profile(race: Race, rider_id: str, _since: int) -> Iterator[Made]:
    profile = profile_record(race, rider_id, race.books.now + 1)
    yield profile.id, document("profile", profile, subject_id=rider_id)


def _forecasts(race: Race, rider_id: str, since: int) -> Iterator[Made]:
    made = (_forecast(race, rider_id, place) for place in race.books.race_days if place >= since)
    return ((one.id, one) for one in made if one is not None)


def _evenings(race: Race, rider_id: str, since: int) -> Iterator[Made]:
    for place in (place for place in race.books.race_days if place >= since):
        evening = evening_record(race, rider_id, place)
        id_ = f"evening_drink:{rider_id}:{race.books.stages[place].id}"
        yield id_, None if evening is None else document("evening_drink", evening, subject_id=rider_id)


def _plans(race: Race, rider_id: str, _since: int) -> Iterator[Made]:
    made = (plan_document(race, rider_id, place) for place in planned_places(race, rider_id))
    return ((one.id, one) for one in made if one is not None)


def planned_places(race: Race, rider_id: str) -> list[int]:
    """Return the next race days to plan, and every stage from now on that already has a plan to keep true."""
    books = race.books
    ahead = [place for place in books.race_days if place > books.now]
    has_plan = {place for place in books.race_days
                if f"stage_plan:{rider_id}:{books.stages[place].id}" in books.stored}
    return sorted({*ahead[:N_PLANNED_DAYS], *(has_plan & set(ahead)),
                   *({books.now} & set(books.race_days) - has_plan)})


def _forecast(race: Race, rider_id: str, place: int) -> NewDocument | None:
    """Make a forecast, unless the stored one rests on the very same things."""
    stored = race.books.stored.get(f"stage_forecast:{rider_id}:{race.books.stages[place].id}")
    if stored is not None and is_made_of(stored, forecast_basis(race, rider_id, place)):
        return None
    return document("stage_forecast", forecast_record(race, rider_id, place), subject_id=rider_id)


def _forecast_and_plan(race: Race, rider_id: str, place: int) -> list[NewDocument]:
    both = (_forecast(race, rider_id, place), plan_document(race, rider_id, place))
    return [one for one in both if one is not None]


def _settlements(race: Race, rider_id: str, since: int) -> Iterator[Made]:
    for place in (place for place in race.books.race_days if place >= since):
        settlement, stage_id = settlement_of(race, rider_id, place), race.books.stages[place].id
        summary = summary_of(race, rider_id, place)
        for kind, record in (("settlement", settlement), ("settlement_summary", summary)):
            made = None if record is None else document(kind, record, subject_id=rider_id)
            yield f"{kind}:{rider_id}:{stage_id}", made


MAKERS: dict[str, Callable[[Race, str, int], Iterator[Made]]] = {
    "profile": _profile,
    "stage_forecast": _forecasts,
    "settlement": _settlements,
    "evening_drink": _evenings,
    "stage_plan": _plans,
}


def _audit(race: Race, made: list[NewDocument], gone: list[str]) -> list[NewDocument]:
    """Grade from the settlements just made and, for everyone else, those stored."""
    bodies = {one.id: one.body for one in race.books.stored.values() if one.type == "settlement"}
    bodies |= {one.id: one.body for one in made if one.type == "settlement"}
    kept: Iterable[bytes | None] = (bodies[id_] for id_ in sorted(set(bodies) - set(gone)))
    audit = audit_record(msgspec.json.decode(body, type=Settlement) for body in kept if body is not None)
    if audit is None:
        if AUDIT_ID in race.books.stored:
            gone.append(AUDIT_ID)
        return []
    return [document("forecast_audit", audit, subject_id=race.books.team_id)]


def _store(repository: Repository, team_id: str, made: list[NewDocument], gone: list[str]) -> None:
    with repository.transaction():
        repository.put_documents(team_id, with_cuts(made))
        if gone:
            repository.delete_documents(team_id, with_cut_ids(gone))
