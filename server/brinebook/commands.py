"""Commands for whoever keeps the server: back up, restore, erase, check the ledger."""

import argparse
from collections.abc import Iterable
from functools import partial
from pathlib import Path

from brinebook import clock
from brinebook.access import ledger
from brinebook.app import everything
from brinebook.doctor import examine
from brinebook.jobs.keeper import keep
from brinebook.jobs.one_server import only_one
from brinebook.planning.recompute import recompute
from brinebook.settings import Settings
from brinebook.storage import people_keys
from brinebook.storage.backup import backup
from brinebook.storage.check import TeamCount
from brinebook.storage.errors import NotFound, StorageUnavailable
from brinebook.storage.ledger import Erasure, write_down
from brinebook.storage.repository import Repository
from brinebook.storage.sql import open_repository
from brinebook.storage.sqlite import FILE_NAME
from brinebook.sync.erase import erase_subject
from brinebook.sync.keeping import planned_totals, retain
from brinebook.sync.restore import restore


def add_parsers(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> list[argparse.ArgumentParser]:
    """Describe the commands; each works on a data folder."""
    backing = commands.add_parser("backup", help="write a checked copy to a new file, while the server runs")
    backing.add_argument("--to", type=Path, required=True, help="the new file; an existing one is not replaced")
    restoring = commands.add_parser("restore", help="replace the store by a backup; the server must be stopped")
    restoring.add_argument("--from", type=Path, required=True, dest="source", help="a file written by backup")
    erasing = commands.add_parser("erase", help="forget a rider or a member of staff for ever")
    erasing.add_argument("--team-id")
    erasing.add_argument("--subject-id", help="id of the rider, or of the member of staff")
    erasing.add_argument("--due", action="store_true", help="instead: all whose days of grace are over")
    erasing.set_defaults(check=partial(_whom_to_erase, erasing))
    retaining = commands.add_parser("retain", help="let go of facts that were kept long enough, by kind")
    retaining.add_argument("--dry-run", action="store_true", help="only say what would go")
    chained = commands.add_parser("ledger", help="check that no line of the ledger was altered, removed or moved")
    chained.add_argument("what", choices=["verify"])
    looking = commands.add_parser("doctor", help="look whether all is well, and say what to do where it is not")
    looking.add_argument("--backups", type=Path, default=None, help="folder of the nightly backups")
    return [backing, restoring, erasing, retaining, chained, looking]


def _whom_to_erase(erasing: argparse.ArgumentParser, arguments: argparse.Namespace) -> None:
    """End with the parser's error unless one person is named, or all who are due."""
    named = {"--team-id": arguments.team_id, "--subject-id": arguments.subject_id}
    missing = [flag for flag, given in named.items() if not given]
    if arguments.due and len(missing) < len(named):
        erasing.error("--due erases everybody who is due: leave out --team-id and --subject-id")
    if missing and not arguments.due:
        erasing.error(f"{' and '.join(missing)} missing: say whom to erase, or --due for all who are due")


def _print(teams: Iterable[TeamCount]) -> None:
    for one in teams:
        print(f"  team {one.team_id}: {one.n_events} facts, {one.n_documents} documents written")


def run_backup(arguments: argparse.Namespace, settings: Settings) -> int:
    """Write a backup. A folder without a store is a slip of the keys, not an empty store to be kept."""
    if not settings.database_url and not (settings.data / FILE_NAME).is_file():
        raise StorageUnavailable(f"{settings.data} holds no store")
    repository = open_repository(settings.data, settings.database_url)
    try:
        found = backup(repository, arguments.to)
    finally:
        repository.close()
    print(f"backup: {arguments.to} is whole")
    _print(found)
    print("  keep vapid.pem and erased.jsonl of the data folder beside it; delete backups after 35 days")
    print(f"  {people_keys.FILE_NAME} beside it opens what is about people: copy it along, over the one before")
    return 0


def run_restore(arguments: argparse.Namespace, settings: Settings) -> int:
    """Restore a backup before anything is served."""
    with only_one(settings.data):
        done = restore(settings.data, settings.database_url, arguments.source)
    print(f"restored: new epoch {done.epoch}, {done.n_erased_again} erased again, {done.n_revoked_again} revoked again")
    _print(done.teams)
    if done.n_without_key:
        print(f"  {done.n_without_key} persons of this backup have no key any more: they came back as erased")
    if done.is_plain:
        print("  this backup is of the older form, which anybody can read: make a new one and delete it")
    print("  phones push again what they authored in the last 30 days as soon as they meet the new epoch")
    if done.set_aside:
        print(f"  the replaced store is {done.set_aside}: delete it once this one has proved itself")
    return 0


def _compute(repository: Repository, team_id: str) -> None:
    head = repository.head(team_id)
    recompute(repository, team_id, everything(repository, team_id))
    repository.mark_computed(team_id, head)


def run_erase(arguments: argparse.Namespace, settings: Settings) -> int:
    """Write the erasure down, carry it out, compute without the subject, let go of old copies."""
    if arguments.due:
        return _run_erase_due(settings)
    erasure = Erasure(
        team_id=arguments.team_id, subject_id=arguments.subject_id, erased_at_ms=clock.now_ms(),
    )
    repository = open_repository(settings.data, settings.database_url)
    try:
        if erasure.team_id not in repository.team_ids():
            raise NotFound("team", erasure.team_id)
        done = erase_subject(repository, erasure, write_down=lambda one: write_down(settings.data, [one]))
        _compute(repository, erasure.team_id)
        repository.scrub()
    finally:
        repository.close()
    print(f"erased: {done.n_events} facts of {erasure.subject_id}; phones forget at their next exchange")
    print("  erased.jsonl keeps it so when a backup is restored: keep a copy of it elsewhere")
    return 0


def _run_erase_due(settings: Settings) -> int:
    repository = open_repository(settings.data, settings.database_url)
    try:
        teams = keep(repository, settings.data, lambda team_id: _compute(repository, team_id), is_retaining=False)
        left = repository.wishes()
    finally:
        repository.close()
    print(f"erased what was due in {len(teams)} teams; {len(left)} still in their days of grace")
    return 0


def run_retain(arguments: argparse.Namespace, settings: Settings) -> int:
    """Let go of what was kept long enough, or say what would go."""
    repository = open_repository(settings.data, settings.database_url)
    try:
        totals = planned_totals(repository, now_ms=clock.now_ms())
        gone = retain(repository, settings.data, now_ms=clock.now_ms(), is_dry=arguments.dry_run)
        if not arguments.dry_run and gone:
            for team_id in sorted({one.team_id for one in gone}):
                _compute(repository, team_id)
            repository.scrub()
    finally:
        repository.close()
    word = "would go" if arguments.dry_run else "went"
    for one in gone:
        print(f"team {one.team_id}: {one.n_facts} of {one.kind}, older than {one.months} months, {word}")
    print(f"{sum(one.n_facts for one in gone)} facts {word}; their numbers, ids and kinds stay")
    if totals:
        stay = "would stay" if arguments.dry_run else "stay"
        print(f"of {len(totals)} settled rider-stages the totals {stay}, until the rider is erased")
    return 0


def run_ledger(_: argparse.Namespace, settings: Settings) -> int:
    """Check each team's ledger; the last hash, kept elsewhere, shows later that nothing was written anew."""
    repository = open_repository(settings.data, settings.database_url)
    try:
        faults = {team_id: ledger.verify(repository, team_id) for team_id in repository.team_ids()}
        heads = {team_id: repository.ledger_head(team_id) or (0, "") for team_id in faults}
    finally:
        repository.close()
    for team_id, fault in faults.items():
        n, sha = heads[team_id]
        told = f"whole, {n} lines, last {sha[:16] or '-'}" if fault is None else f"line {fault.n} {fault.reason}"
        print(f"ledger of team {team_id}: {told}")
    return 1 if any(faults.values()) else 0


def run_doctor(arguments: argparse.Namespace, settings: Settings) -> int:
    """Print each finding; what needs doing stands under it."""
    found = examine(settings, arguments.backups)
    for one in found:
        print(f"{one.state:>4}  {one.what}")
        if one.to_do:
            print(f"      -> {one.to_do}")
    return 1 if any(one.state == "bad" for one in found) else 0


RUN = {"backup": run_backup, "restore": run_restore, "erase": run_erase, "retain": run_retain, "ledger": run_ledger,
       "doctor": run_doctor}
