"""Pure verdicts: what is known and what comes in, to what becomes of it."""

from dataclasses import dataclass, field

import msgspec
from msgspec import Raw

from brinebook.access import disclosure
from brinebook.records.edited import Member
from brinebook.records.facts import BODY_BY_KIND, Amend, Event, Link
from brinebook.records.wire import Verdict
from brinebook.storage.repository import KnownEvent, NewEvent
from brinebook.sync.decode import content_sha, decoded
from brinebook.sync.errors import BadRecord

ERASED_AS = "erased"
CORRECTIONS = frozenset({"amend", "void", "link", "unlink", "contested"})


class _OnlyId(msgspec.Struct):
    id: str = ""


@dataclass(frozen=True)
class Context:
    """What verdicts depend on besides the event: who sends it, which subjects exist, the facts it may refer to."""

    member: Member
    team_id: str
    rider_ids: frozenset[str]
    known: dict[str, KnownEvent] = field(default_factory=dict)
    facts: dict[str, Event] = field(default_factory=dict)
    """Known facts and those of the same batch, by id."""
    disclosed_as: dict[str, str] = field(default_factory=dict)
    erased: frozenset[str] = frozenset()
    """Subjects that were erased."""
    refused: set[str] = field(default_factory=set)
    """Facts refused earlier, or in this batch."""
    vouched: set[str] = field(default_factory=set)
    """Facts of this batch that this book held before, by its own seal: they are not judged a second time."""


def rejected(id_: str, code: str, *, field_name: str = "", limit: str = "") -> Verdict:
    """Refuse one event: shown to its author, never sent again unchanged."""
    return Verdict(id=id_, status="rejected", code=code, field=field_name, limit=limit)


def _best_id(raw: bytes) -> str:
    try:
        return decoded(raw, _OnlyId).id
    except BadRecord:
        return ""


def read(raw: bytes, *, received_at_ms: int) -> NewEvent | Verdict:
    """Decode one raw event, leniently: a bad one is refused, the rest of its batch proceeds."""
    try:
        event = decoded(raw, Event)
        sha = content_sha(raw)
    except BadRecord as problem:
        return rejected(_best_id(raw), "bad_event", field_name=problem.field, limit=problem.limit)
    return NewEvent(event=event, raw=raw, sha=sha, disclosed_as=event.kind, received_at_ms=received_at_ms)


def repetition(known: KnownEvent, incoming: NewEvent) -> Verdict:
    """Judge an event whose id this team already has."""
    if known.disclosed_as == ERASED_AS:
        return Verdict(id=known.id, status="erased")
    status = "dup" if known.sha == incoming.sha else "conflict"
    code = "" if status == "dup" else "other_content"
    return Verdict(id=known.id, status=status, seq=known.seq, code=code)  # type: ignore[arg-type]


def refs(event: Event) -> list[str]:
    """List the facts a correction names."""
    if event.kind in {"link", "unlink"}:
        try:
            link = decoded(event.body, Link)
        except BadRecord:
            return []
        return [link.a, link.b]
    return [event.ref] if event.ref is not None and event.kind in CORRECTIONS else []


def is_correction(event: Event) -> bool:
    """Tell whether the event means nothing without the fact it names."""
    return event.kind in CORRECTIONS


def judge(new: NewEvent, context: Context) -> NewEvent | Verdict:
    """Judge an event that is new to the team: the event to keep, or why it is not kept."""
    event = new.event
    if event.subject_id in context.erased:
        return Verdict(id=event.id, status="erased")
    is_vouched = event.id in context.vouched
    problem = None if is_vouched else _envelope_problem(event, context) or _body_problem(event)
    if problem is not None:
        return problem
    if is_correction(event):
        return _judged_correction(new, context)
    if not is_vouched and not disclosure.may_write_fact(context.member, event.kind, event.subject_id):
        return rejected(event.id, "not_yours", field_name="kind", limit="a kind this role may note of this rider")
    return new


def _envelope_problem(event: Event, context: Context) -> Verdict | None:
    if event.by != context.member.id:
        return rejected(event.id, "not_yours", field_name="by", limit="the member this device belongs to")
    is_team_wide = event.kind in disclosure.TEAM_WIDE_KINDS and event.subject_id == context.team_id
    if event.subject_id not in context.rider_ids and not is_team_wide and not is_correction(event):
        return rejected(event.id, "unknown_rider", field_name="subject_id", limit="the id of a rider of this team")
    return None


def _body_problem(event: Event) -> Verdict | None:
    body_type = BODY_BY_KIND.get(event.kind)
    try:
        if body_type is None:
            decoded(event.body, dict[str, Raw])
        else:
            decoded(event.body, body_type)
    except BadRecord as problem:
        return rejected(event.id, "bad_body", field_name=problem.field, limit=problem.limit)
    return None


def _judged_correction(new: NewEvent, context: Context) -> NewEvent | Verdict:
    event = new.event
    names = refs(event)
    problem = _reference_problem(event, names, context)
    if problem is not None:
        return problem
    kinds = {context.disclosed_as[name] for name in names}
    if event.id in context.vouched:
        return msgspec.structs.replace(new, disclosed_as=min(kinds))
    if not _may_correct(event, kinds, context):
        return rejected(event.id, "not_yours", field_name="ref", limit="a fact this role may note of this rider")
    if event.kind == "amend":
        problem = _amended_body_problem(event, context.facts[names[0]])
    return msgspec.structs.replace(new, disclosed_as=min(kinds)) if problem is None else problem


def _reference_problem(event: Event, names: list[str], context: Context) -> Verdict | None:
    if any(context.disclosed_as.get(name) == ERASED_AS for name in names):
        return Verdict(id=event.id, status="erased")
    missing = {name for name in names if name not in context.facts}
    if not names:
        return rejected(event.id, "bad_body", field_name="ref", limit="the id of the fact it is about")
    if missing & context.refused:
        return rejected(event.id, "ref_rejected", field_name="ref", limit="a fact that was not refused itself")
    if missing:
        # Who may see a correction is known only once its fact is here: the phone keeps it and sends it again.
        return Verdict(id=event.id, status="retry", code="unknown_ref", field="ref")
    if any(context.facts[name].subject_id != event.subject_id for name in names):
        return rejected(event.id, "wrong_subject", field_name="subject_id", limit="the subject of the fact it is about")
    return None


def _may_correct(event: Event, kinds: set[str], context: Context) -> bool:
    if len(kinds) > 1 and event.kind in {"link", "unlink"}:
        readers = {disclosure.FACT_READERS.get(kind, disclosure.UNKNOWN_FACT_READERS) for kind in kinds}
        if len(readers) > 1:
            return False
    if event.kind == "contested":
        return event.subject_id == context.member.rider_id
    return all(disclosure.may_write_fact(context.member, kind, event.subject_id) for kind in kinds)


def _amended_body_problem(event: Event, target: Event) -> Verdict | None:
    body_type = BODY_BY_KIND.get(target.kind)
    if body_type is None or is_correction(target):
        return None
    wanted = msgspec.to_builtins(decoded(event.body, Amend).set)
    merged = {**decoded(target.body, dict[str, object]), **wanted}
    try:
        decoded(msgspec.json.encode(merged), body_type)
    except BadRecord as problem:
        return rejected(event.id, "bad_body", field_name=problem.field, limit=problem.limit)
    return None
