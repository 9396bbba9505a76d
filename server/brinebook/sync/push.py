"""Facts in: one transaction per batch and team, verdicts after the commit, every id exactly once."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import msgspec
from msgspec import Raw, Struct

from brinebook import clock
from brinebook.access.devices import SignedIn
from brinebook.planning.recompute import Changed
from brinebook.records.edited import Rider
from brinebook.records.facts import Event
from brinebook.records.wire import Verdict
from brinebook.storage.errors import StorageConflict
from brinebook.storage.repository import NewEvent, Repository
from brinebook.sync import merge
from brinebook.sync.seal import is_sealed, seal_of

NOTHING = Changed(
    subject_ids=frozenset(), kinds=frozenset(), stage_ids=frozenset(), edited_types=frozenset(),
)

Batch = tuple[dict[str, NewEvent], list[NewEvent], list[Verdict]]
ATTEMPTS = 4
NO_SEALS: Mapping[str, str] = MappingProxyType({})


def read_batch(raws: Sequence[bytes], *, now_ms: int) -> Batch:
    """Decode a batch into new events by id, second bodies under a repeated id, and refusals."""
    fresh: dict[str, NewEvent] = {}
    seconds: list[NewEvent] = []
    refused: list[Verdict] = []
    for raw in raws:
        outcome = merge.read(raw, received_at_ms=now_ms)
        if isinstance(outcome, Verdict):
            refused.append(outcome)
        elif outcome.event.id not in fresh:
            fresh[outcome.event.id] = outcome
        elif fresh[outcome.event.id].sha != outcome.sha:
            seconds.append(outcome)
    return fresh, seconds, refused


def _vouched(repository: Repository, team_id: str, fresh: Mapping[str, NewEvent], seals: Mapping[str, str]) -> set[str]:
    """Find the facts that this store took once before, by its own seal."""
    key = repository.seal_key()
    of_batch = {id_: new for id_, new in fresh.items() if id_ in seals}
    return {id_ for id_, new in of_batch.items() if is_sealed(key, team_id, id_, new.sha, seals[id_])}


def _context(
    repository: Repository, who: SignedIn, fresh: dict[str, NewEvent], vouched: set[str],
) -> merge.Context:
    named = {name for new in fresh.values() for name in merge.refs(new.event)}
    known = repository.known_events(who.team_id, [*fresh, *named])
    rider_ids = repository.edited_ids(who.team_id, Rider)
    strangers = {new.event.subject_id for new in fresh.values()} - rider_ids - {who.team_id}
    return merge.Context(
        member=who.member,
        team_id=who.team_id,
        rider_ids=rider_ids,
        erased=repository.erased_subjects(who.team_id) if strangers else frozenset(),
        known=known,
        facts=repository.events_by_id(who.team_id, sorted(named)) if named else {},
        refused=set(repository.quarantined_ids(who.team_id, sorted(named))) if named else set(),
        disclosed_as={id_: found.disclosed_as for id_, found in known.items()},
        vouched=vouched,
    )


def _depth(new: NewEvent) -> int:
    """Order facts before their corrections, and those before corrections of corrections."""
    if not merge.is_correction(new.event):
        return 0
    return 2 if new.event.kind == "void" else 1


def _judged(fresh: dict[str, NewEvent], context: merge.Context) -> tuple[list[NewEvent], list[NewEvent], list[Verdict]]:
    kept: list[NewEvent] = []
    aside: list[NewEvent] = []
    verdicts: list[Verdict] = []
    for new in sorted(fresh.values(), key=_depth):
        known = context.known.get(new.event.id)
        outcome = merge.judge(new, context) if known is None else merge.repetition(known, new)
        if isinstance(outcome, NewEvent):
            kept.append(outcome)
            context.facts[new.event.id] = new.event
            context.disclosed_as[new.event.id] = outcome.disclosed_as
            continue
        verdicts.append(outcome)
        if outcome.status in {"conflict", "rejected"}:
            aside.append(new)
            context.refused.add(new.event.id)
    order = {id_: place for place, id_ in enumerate(fresh)}
    return sorted(kept, key=lambda new: order[new.event.id]), aside, verdicts


def push(
    repository: Repository, who: SignedIn, raws: Sequence[bytes], *, now_ms: int,
    seals: Mapping[str, str] = NO_SEALS, is_sealing: bool = False,
) -> tuple[list[Verdict], Changed]:
    """Keep what is new and sound, or sealed; return the verdicts, sealed where asked, and what the batch changed."""
    batch = read_batch(raws, now_ms=now_ms)
    if not batch[0]:
        return batch[2], NOTHING
    vouched = _vouched(repository, who.team_id, batch[0], seals) if seals else set[str]()
    verdicts, changed = _insisted(repository, who, batch, vouched)
    return _sealed(repository, who.team_id, batch[0], verdicts) if is_sealing else verdicts, changed


def _sealed(
    repository: Repository, team_id: str, fresh: Mapping[str, NewEvent], verdicts: list[Verdict],
) -> list[Verdict]:
    key = repository.seal_key()
    return [
        msgspec.structs.replace(one, seal=seal_of(key, team_id, one.id, fresh[one.id].sha))
        if one.status in {"ok", "dup"} else one
        for one in verdicts
    ]


def _insisted(
    repository: Repository, who: SignedIn, batch: Batch, vouched: set[str],
) -> tuple[list[Verdict], Changed]:
    for _ in range(ATTEMPTS - 1):
        try:
            return _committed(repository, who, batch, vouched)
        except StorageConflict:
            # The same facts came in twice at once, from a phone that did not hear the first answer: look again.
            continue
    return _committed(repository, who, batch, vouched)


def _committed(
    repository: Repository, who: SignedIn, batch: Batch, vouched: set[str],
) -> tuple[list[Verdict], Changed]:
    fresh, seconds, refused = batch
    with repository.transaction():
        context = _context(repository, who, fresh, vouched)
        kept, aside, verdicts = _judged(fresh, context)
        repository.quarantine(who.team_id, aside + seconds, "refused")
        # Last of all: the lock of the team's counter is held from here to the commit.
        seqs = repository.add_events(who.team_id, kept)
    accepted = [Verdict(id=id_, status="ok", seq=seq) for id_, seq in seqs.items()]
    return refused + verdicts + accepted, _changed(kept)


def _changed(kept: list[NewEvent]) -> Changed:
    return Changed(
        subject_ids=frozenset(new.event.subject_id for new in kept),
        kinds=frozenset(kind for new in kept for kind in (new.event.kind, new.disclosed_as)),
        stage_ids=frozenset(new.event.stage_id for new in kept if new.event.stage_id is not None),
        edited_types=frozenset(),
    )


def state(
    repository: Repository, who: SignedIn, *, kind: str, subject_id: str, stage_id: str, body: Struct
) -> tuple[Verdict, Changed]:
    """
    State one fact through another doorway than the exchange, by the very same rules.

    Its counters are zero: a phone numbers what it sends itself, and any later correction outranks this fact.
    """
    now_ms = clock.now_ms()
    event = Event(
        id=clock.new_id(), kind=kind, subject_id=subject_id, by=who.member.id, device_id=who.device.id, n=0, lamport=0,
        at_ms=now_ms, stage_id=stage_id, body=Raw(msgspec.json.encode(body)),
    )
    verdicts, changed = push(repository, who, [msgspec.json.encode(event)], now_ms=now_ms)
    return verdicts[0], changed


def quarantine(repository: Repository, team_id: str, raws: Sequence[bytes], *, now_ms: int) -> None:
    """Keep the last entries of a revoked device for review, so that nothing real is lost; what is known is not new."""
    fresh, seconds, _ = read_batch(raws, now_ms=now_ms)
    known = repository.known_events(team_id, list(fresh)) if fresh else {}
    erased = repository.erased_subjects(team_id) if fresh else frozenset[str]()
    repository.quarantine(
        team_id,
        [
            new for new in [*fresh.values(), *seconds]
            if (new.event.id not in known or known[new.event.id].sha not in {new.sha, ""})
            and new.event.subject_id not in erased
        ],
        "revoked",
    )

