"""Letting go: a person's wish to be forgotten, its days of grace, and facts that were kept long enough."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from msgspec import Struct

from brinebook import clock
from brinebook.access import ledger
from brinebook.access.devices import DAY_MS, SignedIn
from brinebook.access.retention import ASIDE_MONTHS, KEPT_MONTHS, before_ms, months_by_kind
from brinebook.planning.totals import SETTLED_FROM, places_of, total_documents, totals_due
from brinebook.records.kept import StageTotal
from brinebook.storage.errors import NotFound
from brinebook.storage.ledger import Erasure, Retained, keep_retained, write_down
from brinebook.storage.personal import Wish
from brinebook.storage.repository import Repository
from brinebook.sync.erase import erase_subject
from brinebook.sync.errors import ClockAhead

GRACE_DAYS = 14
STANDING_STILL_DAYS = 400
"""Whoever heard nothing for so long has a wrong clock, or a book that a person should look at first."""
OTHER = ""
STAYS = ("numbers", "ledger", "noted_for_others")
"""What an erasure leaves, each a sentence on the phone: bare numbers, ledger lines without a name, others' facts."""


class Preview(Struct, frozen=True, kw_only=True):
    """What erasing would take, by kind, what it leaves, and when a wish that stands falls due."""

    grace_days: int
    facts: Mapping[str, int]
    documents: Mapping[str, int]
    n_aside: int
    n_devices: int
    n_answers: int
    stays: tuple[str, ...]
    asked_at_ms: int | None
    due_at_ms: int | None


class Gone(Struct, frozen=True, kw_only=True):
    """How many facts of a kind went, or would go."""

    team_id: str
    kind: str
    months: int
    n_facts: int


def subject_of(who: SignedIn) -> str:
    """Name whom an erasure of this person is about."""
    return who.member.rider_id or who.member.id


def _own_ids(repository: Repository, who: SignedIn) -> tuple[frozenset[str], list[str]]:
    subject_id = subject_of(who)
    members = [one.id for one in repository.members(who.team_id) if subject_id in {one.id, one.rider_id}]
    return frozenset({subject_id, *members}), members


def preview(repository: Repository, who: SignedIn) -> Preview:
    """Count what erasing this person would take; nothing is changed."""
    ids, members = _own_ids(repository, who)
    counts, wish = repository.counts_about(who.team_id, ids), repository.wish(who.team_id, subject_of(who))
    return Preview(
        grace_days=GRACE_DAYS, facts=counts.facts, documents=counts.documents, n_aside=counts.n_aside,
        n_devices=sum(len(repository.devices_of(who.team_id, one)) for one in members),
        n_answers=sum(len(repository.answers(who.team_id, one)) for one in members), stays=STAYS,
        asked_at_ms=None if wish is None else wish.asked_at_ms, due_at_ms=None if wish is None else wish.due_at_ms,
    )


def wish(repository: Repository, who: SignedIn) -> Wish:
    """Ask to be forgotten; asking again does not move the day."""
    with repository.transaction():
        repository.hold(who.team_id)
        found = repository.wish(who.team_id, subject_of(who))
        if found is not None:
            return found
        now_ms = clock.now_ms()
        made = Wish(
            team_id=who.team_id, subject_id=subject_of(who), asked_at_ms=now_ms,
            due_at_ms=now_ms + GRACE_DAYS * DAY_MS,
        )
        repository.put_wish(made)
        ledger.note(repository, who.team_id, [ledger.did(who, "wished", about=made.subject_id)])
    return made


def take_back(repository: Repository, who: SignedIn) -> None:
    """Take the wish back; where there is none, nothing happens."""
    with repository.transaction():
        repository.hold(who.team_id)
        if repository.wish(who.team_id, subject_of(who)) is not None:
            repository.forget_wish(who.team_id, subject_of(who))
            ledger.note(repository, who.team_id, [ledger.did(who, "unwished", about=subject_of(who))])


def erase_due(repository: Repository, data: Path, *, now_ms: int) -> list[Wish]:
    """Erase whose days of grace are over; the caller computes their teams again and scrubs."""
    return [one for one in repository.wishes() if one.due_at_ms <= now_ms and _carried_out(repository, data, one)]


def _carried_out(repository: Repository, data: Path, one: Wish) -> bool:
    erasure = Erasure(team_id=one.team_id, subject_id=one.subject_id, erased_at_ms=clock.now_ms())
    with repository.transaction():
        repository.hold(one.team_id)
        if repository.wish(one.team_id, one.subject_id) != one:
            # Taken back at the last moment.
            return False
        try:
            erase_subject(repository, erasure, write_down=lambda erased: write_down(data, [erased]))
        except NotFound:
            repository.forget_wish(one.team_id, one.subject_id)
            return False
    return True


def _kept(repository: Repository, team_id: str, *, now_ms: int) -> list[tuple[Retained, int]]:
    table = months_by_kind(repository, team_id, now_ms=now_ms)
    return [
        (Retained(team_id=team_id, kind=kind, before_ms=before_ms(months, now_ms)), months)
        for kind, months in table.items() if months is not None
    ]


def _of(one: Retained) -> tuple[list[str], bool]:
    return (sorted(KEPT_MONTHS), True) if one.kind == OTHER else ([one.kind], False)


def retain(repository: Repository, data: Path, *, now_ms: int, is_dry: bool) -> list[Gone]:
    """Let go of facts kept long enough, written down first; or, dry, only count them."""
    heard_ms = repository.last_received_ms()
    if heard_ms and now_ms - heard_ms > STANDING_STILL_DAYS * DAY_MS:
        raise ClockAhead("clock", str(now_ms), f"{STANDING_STILL_DAYS} days after the last fact at most")
    gone: list[Gone] = []
    for team_id in repository.team_ids():
        due: list[Retained] = []
        for one, months in _kept(repository, team_id, now_ms=now_ms):
            kinds, is_other = _of(one)
            found = repository.older_facts(team_id, kinds, one.before_ms, is_other=is_other)
            gone += [Gone(team_id=team_id, kind=kind, months=months, n_facts=n) for kind, n in sorted(found.items())]
            due += [one] if found else []
        if not is_dry:
            if due:
                keep_retained(data, due)
                let_go(repository, due)
            repository.let_go_aside(team_id, before_ms(ASIDE_MONTHS, now_ms))
    return gone


def planned_totals(repository: Repository, *, now_ms: int) -> list[StageTotal]:
    """Give the totals that would be kept of settled stages whose facts would go now."""
    return [
        total for team_id in repository.team_ids()
        for total in _totals(repository, [one for one, _ in _kept(repository, team_id, now_ms=now_ms)])
    ]


def _totals(repository: Repository, due: Iterable[Retained]) -> list[StageTotal]:
    """Give the totals of settled stages of one team that these would take facts from."""
    by_team: dict[str, set[tuple[str, str]]] = {}
    for one in due:
        if one.kind in SETTLED_FROM:
            bodies = repository.older_bodies(one.team_id, one.kind, one.before_ms)
            by_team.setdefault(one.team_id, set()).update(places_of(bodies))
    return [total for team_id, places in by_team.items() for total in totals_due(repository, team_id, places)]


def let_go(repository: Repository, due: Iterable[Retained]) -> None:
    """Let go of the content of facts by kind and age, and note how many; the totals of settled stages stay."""
    due = list(due)
    for team_id in sorted({one.team_id for one in due}):
        with repository.transaction():
            repository.hold(team_id)
            totals = _totals(repository, [one for one in due if one.team_id == team_id])
            repository.put_documents(team_id, total_documents(totals))
    for one in due:
        kinds, is_other = _of(one)
        with repository.transaction():
            repository.hold(one.team_id)
            n_facts = repository.let_go(one.team_id, kinds, one.before_ms, is_other=is_other)
            if n_facts:
                noted = ledger.Entry(act="retained", by=ledger.SERVER, what=f"{one.kind or 'other'}: {n_facts}")
                ledger.note(repository, one.team_id, [noted])
