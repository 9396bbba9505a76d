"""
Bringing a backup back: a new epoch, and whoever was erased stays erased, before anything is served.

Phones see the new epoch, read everything again, and push again what they authored in the last thirty days, and what
they had read of others and no longer find: so what the backup did not have comes back from whoever holds it.
"""

import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import msgspec
from msgspec import Struct

from brinebook import clock
from brinebook.records.edited import Stage
from brinebook.storage import backup as backups
from brinebook.storage.check import TeamCount, check_store
from brinebook.storage.database import Database
from brinebook.storage.errors import NotFound, StorageError
from brinebook.storage.ledger import Erasure, Retained, read_ledger, read_retained, write_down
from brinebook.storage.mapping import edited_document
from brinebook.storage.migrate import upgrade
from brinebook.storage.people_keys import KeyFile
from brinebook.storage.personal import MonthsSet, Wish
from brinebook.storage.repository import Device
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.storage.sqlite import FILE_NAME, SqliteBackend
from brinebook.storage.unsealing import about, keys_for, unseal
from brinebook.sync.erase import erase_subject
from brinebook.sync.errors import SyncError
from brinebook.sync.keeping import let_go


@dataclass(eq=False)
class StillServing(SyncError):
    """A server runs on the store that is to be replaced; stop it first. ``value`` says which store."""

    value: str


IN_WORK = "restoring.sqlite3"
SET_ASIDE = "before-restore-{epoch}.sqlite3"


class Restored(Struct, frozen=True, kw_only=True):
    """What was brought back, and what was done to it first."""

    epoch: str
    teams: list[TeamCount]
    n_erased_again: int
    n_revoked_again: int
    set_aside: str
    n_without_key: int = 0
    """Persons of the backup whose key is gone: they came back as erased."""
    is_plain: bool = False
    """The backup is of the older form, which holds everybody in the clear."""


class Known(Struct, frozen=True, kw_only=True):
    """What must outlive the store that is replaced."""

    erasures: list[Erasure] = []
    revoked: list[Device] = []
    wishes: list[Wish] | None = None
    """As they stand; None where no store could be asked, and those of the backup are all there is."""
    retained: list[Retained] = []
    months: list[MonthsSet] = []
    """What teams have set since: an older backup must not shorten what was lengthened."""
    seal_key: bytes = b""
    passkey_ids: frozenset[str] | None = None
    """Those not removed meanwhile; None where no store could be asked."""
    keys: KeyFile | None = None
    """Of the backup's people; None for a backup of the older form."""


def known_now(data: Path, url: str) -> Known:
    """Read what the present store and the ledger file know; a store that cannot be read knows nothing."""
    erasures, revoked, seal_key, months = read_ledger(data), list[Device](), b"", list[MonthsSet]()
    wishes: list[Wish] | None = None
    passkey_ids: frozenset[str] | None = None
    if url or (data / FILE_NAME).exists():
        try:
            present = open_repository(data, url)
            try:
                erasures += present.erasures()
                revoked, seal_key = present.revoked_devices(), present.seal_key()
                months = present.months_set()
                wishes = present.wishes() if present.team_ids() else None
                passkey_ids = present.passkey_ids() if present.team_ids() else None
            finally:
                present.close()
        except StorageError:
            # It is being replaced because it is broken; the ledger file is what was kept for this.
            revoked = []
    return Known(
        erasures=erasures, revoked=revoked, wishes=wishes, retained=read_retained(data), seal_key=seal_key,
        passkey_ids=passkey_ids, months=months,
    )


def _erased_again(
    repository: SqlRepository, erasures: Iterable[Erasure], without_key: Iterable[tuple[str, str]],
) -> int:
    n_erased, keyless = 0, frozenset(without_key)
    by_person = {(one.team_id, one.subject_id): one for one in erasures}
    for place in keyless:
        by_person.setdefault(place, Erasure(team_id=place[0], subject_id=place[1], erased_at_ms=clock.now_ms()))
    for place, one in sorted(by_person.items()):
        if one.team_id not in repository.team_ids() or one.subject_id in repository.erased_subjects(one.team_id):
            continue
        try:
            erase_subject(repository, one, is_known=place in keyless)
        except NotFound:
            # Not in this backup at all: still never to come back.
            repository.remember_erasure(one)
        n_erased += 1
    return n_erased


def _revoked_again(repository: SqlRepository, revoked: Iterable[Device]) -> int:
    n_revoked = 0
    for one in revoked:
        found = repository.device(one.team_id, one.id)
        if found is not None and not found.is_revoked:
            repository.put_device(msgspec.structs.replace(found, is_revoked=True))
            n_revoked += 1
    return n_revoked


def _wished_again(repository: SqlRepository, wishes: Iterable[Wish]) -> None:
    """Keep wishes as they stand now: one taken back since the backup is not brought back, a newer one is not lost."""
    for old in repository.wishes():
        repository.forget_wish(old.team_id, old.subject_id)
    for one in wishes:
        if one.team_id in repository.team_ids() and one.subject_id not in repository.erased_subjects(one.team_id):
            repository.put_wish(one)


class _Made(Struct, frozen=True, kw_only=True):
    """What the copy of the backup has become."""

    done: Restored
    erasures: list[Erasure]


def _keep_keys(repository: SqlRepository, keys: KeyFile | None) -> None:
    """Go on under the keys people have, those who came after the backup included."""
    for (team_id, person_id), key in () if keys is None else keys.as_table().items():
        if team_id in repository.team_ids():
            repository.put_person_key(team_id, person_id, key)


def _prepared(part: Path, known: Known) -> _Made:
    """Make the copy of the backup what will be served."""
    database = Database(SqliteBackend(part))
    try:
        without_key = unseal(database, {} if known.keys is None else known.keys.as_table())
        upgrade(database)
        check_store(database)
        repository = SqlRepository(database)
        epoch = repository.begin_epoch()
        if known.seal_key:
            repository.keep_seal_key(known.seal_key)
        _keep_keys(repository, known.keys)
        n_erased = _erased_again(repository, known.erasures, without_key)
        if known.passkey_ids is not None:
            repository.keep_passkeys(known.passkey_ids)
        n_revoked = _revoked_again(repository, known.revoked)
        if known.wishes is not None:
            _wished_again(repository, known.wishes)
        for one in known.months:
            repository.set_months(one)
        let_go(repository, [one for one in known.retained if one.team_id in repository.team_ids()])
        for team_id in repository.team_ids():
            if without_key:
                # A stage's document named who is gone, so it stayed shut; the stage itself says it again.
                repository.put_documents(team_id, map(edited_document, repository.all_edited(team_id, Stage)))
            repository.mark_computed(team_id, -1)
        database.backend.scrub()
        done = Restored(
            epoch=epoch, teams=check_store(database), n_erased_again=n_erased, n_revoked_again=n_revoked,
            set_aside="", n_without_key=len(without_key), is_plain=known.keys is None,
        )
        return _Made(done=done, erasures=repository.erasures())
    finally:
        database.close()


def restore(data: Path, url: str, source: Path) -> Restored:
    """
    Replace the store by a backup. Nothing is replaced unless the backup is whole; no server may run meanwhile.

    Raises ``KeysMissing`` when the keys of its people are neither beside it nor in the data folder.
    """
    told = about(source)
    backups.check_file(source)
    data.mkdir(parents=True, exist_ok=True)
    keys = None if told is None else keys_for(told, [source.parent, data])
    known = msgspec.structs.replace(known_now(data, url), keys=keys)
    part = data / IN_WORK
    for left in ("", "-wal", "-shm"):
        part.with_name(part.name + left).unlink(missing_ok=True)
    shutil.copyfile(source, part)
    made = _prepared(part, known)
    write_down(data, made.erasures)
    set_aside = _into_database(part, url, data) if url else _into_file(part, data, made.done.epoch)
    return msgspec.structs.replace(made.done, set_aside=set_aside)


def _into_file(part: Path, data: Path, epoch: str) -> str:
    present, aside = data / FILE_NAME, data / SET_ASIDE.format(epoch=epoch)
    backups.flush(part)
    if present.exists():
        aside.hardlink_to(present)
    for left in ("-wal", "-shm"):
        old = present.with_name(present.name + left)
        if old.exists():
            old.replace(aside.with_name(aside.name + left))
    # Up to here the old store stands under its name; a cut leaves either the old or the new one, never none.
    part.replace(present)
    backups.flush(data)
    return str(aside) if aside.exists() else ""


def _into_database(part: Path, url: str, data: Path) -> str:
    source, target = Database(SqliteBackend(part)), open_repository(data, url)
    try:
        if target.database.backend.n_others():
            raise StillServing(url)
        with source.reading() as rows, target.database.writing() as connection:
            backups.empty(connection)
            backups.copy_rows(rows, connection)
        target.scrub()
    finally:
        source.close()
        target.close()
    for left in ("", "-wal", "-shm"):
        part.with_name(part.name + left).unlink(missing_ok=True)
    return ""
