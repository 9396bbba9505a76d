"""
Notices and choices: what is said to a person, which version, and what he answered.

A notice says what is done and why; a choice is really free, and nothing else depends on it. A changed text gets a
new version here and is asked again; no answer ever stands between a person and his logger.
"""

from typing import Literal

from msgspec import Struct

from brinebook import clock
from brinebook.access import ledger
from brinebook.access.devices import SignedIn
from brinebook.access.errors import NoSuchNotice
from brinebook.storage.errors import NotFound
from brinebook.storage.personal import Answer
from brinebook.storage.repository import Repository

USE, SHARING = "use", "sharing"


class Notice(Struct, frozen=True, kw_only=True):
    """One text by name; its words stand in the catalogues under ``me.notice.<name>``."""

    name: str
    version: int
    dated: str
    sort: Literal["notice", "choice"]


NOTICES = (
    Notice(name=USE, version=1, dated="2026-11-26", sort="notice"),
    Notice(name=SHARING, version=1, dated="2026-11-26", sort="choice"),
)


class Asked(Struct, frozen=True, kw_only=True):
    """A notice as the person meets it: ``is_due`` when its present version was never answered."""

    name: str
    version: int
    dated: str
    sort: Literal["notice", "choice"]
    is_due: bool
    is_agreed: bool
    answered_at_ms: int | None
    answered_version: int | None


def _asked(notice: Notice, answers: list[Answer]) -> Asked:
    last = next((one for one in reversed(answers) if one.notice == notice.name), None)
    is_due = last is None or last.version != notice.version
    return Asked(
        name=notice.name, version=notice.version, dated=notice.dated, sort=notice.sort, is_due=is_due,
        is_agreed=last is not None and last.is_agreed and not is_due,
        answered_at_ms=None if last is None else last.at_ms, answered_version=None if last is None else last.version,
    )


def asked(repository: Repository, who: SignedIn) -> list[Asked]:
    """List every notice with the person's last answer."""
    answers = repository.answers(who.team_id, who.member.id)
    return [_asked(notice, answers) for notice in NOTICES]


def answer(repository: Repository, who: SignedIn, *, name: str, version: int, is_agreed: bool) -> None:
    """Keep an answer to the present version of a notice; to say no takes what saying yes takes."""
    notice = next((one for one in NOTICES if one.name == name), None)
    if notice is None:
        raise NotFound("notice", name[:40])
    if version != notice.version:
        raise NoSuchNotice("version", str(version), f"{notice.version}, the present version of {name}")
    given = Answer(
        id=clock.new_id(), member_id=who.member.id, notice=name, version=version, is_agreed=is_agreed,
        at_ms=clock.now_ms(),
    )
    with repository.transaction():
        repository.add_answer(who.team_id, given)
        act: ledger.Act = "agreed" if is_agreed else "withdrew"
        ledger.note(repository, who.team_id, [ledger.did(who, act, about=who.member.id, what=f"{name} {version}")])


def sharers(repository: Repository, team_id: str) -> frozenset[str]:
    """Name the riders whose last answer lets their figures leave the team; no answer, or an old one, is a no."""
    notice = next(one for one in NOTICES if one.name == SHARING)
    last = {one.member_id: one for one in repository.answers(team_id) if one.notice == SHARING}
    return frozenset(
        member.rider_id for member in repository.members(team_id)
        if member.rider_id is not None and member.id in last
        and last[member.id].is_agreed and last[member.id].version == notice.version
    )
