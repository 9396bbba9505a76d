"""``doctor``: looks at what a team without an engineer cannot see, and says in one line each what to do about it."""

import shutil
import sqlite3
import ssl
import stat
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal
from urllib.parse import urlsplit

from msgspec import Struct

from brinebook import __version__, clock
from brinebook.access import ledger
from brinebook.access.devices import DAY_MS
from brinebook.push.web_push import KEY_FILE_NAME
from brinebook.settings import Settings
from brinebook.storage.check import check_store
from brinebook.storage.errors import StorageError
from brinebook.storage.ledger import FILE_NAME as ERASED_FILE
from brinebook.storage.ledger import RETAINED_NAME
from brinebook.storage.people_keys import FILE_NAME as PEOPLE_KEYS
from brinebook.storage.people_keys import read_keys
from brinebook.storage.postgresql import PostgresqlBackend
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.storage.sqlite import FILE_NAME
from brinebook.storage.unsealing import is_sealed
from brinebook.sync.errors import ClockAhead
from brinebook.sync.keeping import retain

LEAST_FREE_BYTES = 1_000_000_000
LOW_FREE_BYTES = 5_000_000_000
OLDEST_BACKUP_H = 30
DRIFT_MS = 120_000
LATE_DAYS = 2
BESIDE_BACKUPS = frozenset({PEOPLE_KEYS, ERASED_FILE, RETAINED_NAME, KEY_FILE_NAME})
OTHERS = stat.S_IRWXG | stat.S_IRWXO
WAL_FIXED = (3, 51, 3)
"""From this SQLite on, a rare damage when the log file is begun anew is mended (sqlite.org/changes)."""
State = Literal["ok", "look", "bad"]


class Finding(Struct, frozen=True):
    """One thing looked at: its state, what was found, what to do."""

    state: State
    what: str
    to_do: str = ""


def _disk(settings: Settings) -> Finding:
    free = shutil.disk_usage(settings.data).free
    told = f"disk: {free / 1e9:.1f} GB free"
    if free < LEAST_FREE_BYTES:
        return Finding("bad", told, "make room now: without it no entry can be kept")
    return Finding("ok", told) if free >= LOW_FREE_BYTES else Finding("look", told, "make room before the race")


def _secrets(settings: Settings) -> Iterator[Finding]:
    for name in (KEY_FILE_NAME, ERASED_FILE, FILE_NAME):
        path = settings.data / name
        if not path.exists():
            continue
        is_open = bool(path.stat().st_mode & OTHERS)
        yield Finding(
            "bad" if is_open else "ok", f"file {name}: {'others may read it' if is_open else 'yours alone'}",
            f"chmod 600 {path}" if is_open else "",
        )


def _push(settings: Settings) -> Finding:
    if not (settings.data / KEY_FILE_NAME).exists():
        return Finding("look", "wake-ups: no key yet", "it is made when the server first starts; keep a copy of it")
    if settings.push_contact.endswith(".invalid"):
        return Finding("look", "wake-ups: nobody answers for them", "set BRINEBOOK_PUSH_CONTACT=mailto:you@your.team")
    return Finding("ok", f"wake-ups: {settings.push_contact} answers for them")


def _address(settings: Settings) -> Finding:
    parts = urlsplit(settings.origin)
    if not settings.origin:
        return Finding("look", "address: not set", "set BRINEBOOK_ORIGIN=https://your.name, or links lead to localhost")
    if parts.scheme != "https" and parts.hostname not in {"localhost", "127.0.0.1"}:
        return Finding("bad", f"address: {settings.origin} has no TLS", "phones want https: DEVELOPERS.md, TLS")
    return Finding("ok", f"address: {settings.origin}")


def _certificate(settings: Settings) -> Finding | None:
    if settings.tls_cert is None or settings.tls_key is None:
        return None
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(settings.tls_cert, settings.tls_key)
    except (OSError, ssl.SSLError) as problem:
        return Finding("bad", f"certificate: {type(problem).__name__}", "--tls-cert and --tls-key must belong together")
    return Finding("ok", "certificate and key belong together")


def _backups(folder: Path | None) -> Iterator[Finding]:
    if folder is None:
        yield Finding("look", "backups: not looked at", "give --backups FOLDER, and back up every night")
        return
    files = [one for one in folder.glob("*") if one.is_file() and one.name not in BESIDE_BACKUPS]
    ages_h = [(clock.now_ms() / 1000 - one.stat().st_mtime) / 3600 for one in files]
    if not ages_h:
        yield Finding("bad", f"backups: none in {folder}", "brinebook backup --data DIR --to FILE, every night")
        return
    told = f"backups: {len(ages_h)}, the newest {min(ages_h):.0f} h old"
    yield Finding("ok", told) if min(ages_h) <= OLDEST_BACKUP_H else Finding("bad", told, "find out why it stopped")
    yield _plain_ones(files)
    yield _people_keys(folder, min(ages_h))


def _plain_ones(files: list[Path]) -> Finding:
    """Count backups of the older form: nobody who was erased since is gone from those."""
    n_plain = sum(not is_sealed(one) for one in files)
    if not n_plain:
        return Finding("ok", "backups: what is about people opens with their keys alone")
    return Finding("look", f"backups: {n_plain} of the older form, which anybody can read",
                   "back up anew and delete them: an erasure does not reach into them")


def _people_keys(folder: Path, newest_h: float) -> Finding:
    path = folder / PEOPLE_KEYS
    if not path.is_file():
        return Finding("bad", f"{PEOPLE_KEYS}: not beside the backups",
                       "back up anew, that writes it: without it nobody's data can be read from any of them")
    if path.stat().st_mode & OTHERS:
        return Finding("bad", f"{PEOPLE_KEYS}: others may read it", f"chmod 600 {path}")
    try:
        read_keys(folder)
    except StorageError as problem:
        return Finding("bad", f"{PEOPLE_KEYS}: {vars(problem)}", "back up anew: that writes it whole")
    if (clock.now_ms() / 1000 - path.stat().st_mtime) / 3600 > newest_h + 1:
        return Finding("bad", f"{PEOPLE_KEYS}: older than the newest backup", "copy the newest over it")
    return Finding("ok", f"{PEOPLE_KEYS}: beside the backups, yours alone")


def _versions() -> Iterator[Finding]:
    yield Finding("ok", f"brinebook {__version__}, Python {sys.version.split()[0]}")
    is_new = sqlite3.sqlite_version_info >= WAL_FIXED
    yield Finding("ok" if is_new else "look", f"SQLite {sqlite3.sqlite_version}",
                  "" if is_new else "one with 3.51.3 or later mends a rare damage; back up every night until then")


def _clock(repository: SqlRepository) -> Finding:
    now = datetime.fromtimestamp(clock.now_ms() / 1000, UTC)
    told = f"clock: {now:%Y-%m-%d %H:%M} UTC"
    heard_ms = repository.last_received_ms()
    if heard_ms > clock.now_ms() + DRIFT_MS:
        return Finding("bad", told, "it stands before entries already received: switch time synchronisation on")
    return Finding("ok", told)


def _database(repository: SqlRepository) -> Iterator[Finding]:
    try:
        teams = check_store(repository.database)
        yield Finding("ok", f"database: whole, {len(teams)} teams, {sum(one.n_events for one in teams)} facts")
    except StorageError as problem:
        yield Finding("bad", f"database: {vars(problem)}", "stop the server and restore the newest backup")
    backend = repository.database.backend
    if isinstance(backend, PostgresqlBackend):
        has_net = backend.has_second_net
        yield Finding("ok" if has_net else "look", f"second filter in the database: {'on' if has_net else 'off'}",
                      "" if has_net else "let the database's user make roles, then GRANT brinebook_reader to it")
    for team_id in repository.team_ids():
        fault = ledger.verify(repository, team_id)
        yield Finding("ok" if fault is None else "bad", f"ledger of {team_id}: {fault.reason if fault else 'whole'}",
                      "" if fault is None else f"line {fault.n}: keep the data folder as it is and ask who had access")
    yield _clock(repository)


def _overdue(repository: SqlRepository, data: Path) -> Iterator[Finding]:
    """Look whether what was promised was carried out; a serving server does it by itself within a day."""
    late_ms = clock.now_ms() - LATE_DAYS * DAY_MS
    n_wishes = sum(one.due_at_ms < late_ms for one in repository.wishes())
    yield Finding("bad" if n_wishes else "ok", f"wishes to be forgotten: {n_wishes} overdue",
                  f"brinebook erase --data {data} --due" if n_wishes else "")
    try:
        n_facts = sum(one.n_facts for one in retain(repository, data, now_ms=late_ms, is_dry=True))
    except ClockAhead as problem:
        yield Finding("look", f"months: nothing is let go of, {problem.limit}", "look whether the clock is right")
        return
    yield Finding("bad" if n_facts else "ok", f"months: {n_facts} facts kept longer than promised",
                  f"brinebook retain --data {data}" if n_facts else "")


def examine(settings: Settings, backups: Path | None) -> list[Finding]:
    """Look at everything; a database that does not open is a finding, too."""
    first: list[Callable[[Settings], Finding]] = [_disk, _push, _address]
    found = [*_versions(), *(look(settings) for look in first), *_secrets(settings), *_backups(backups)]
    certificate = _certificate(settings)
    found += [] if certificate is None else [certificate]
    try:
        repository = open_repository(settings.data, settings.database_url)
    except StorageError as problem:
        return [*found, Finding("bad", f"database: {type(problem).__name__}", "is it running, and the address right?")]
    try:
        return [*found, *_database(repository), *_overdue(repository, settings.data)]
    finally:
        repository.close()
