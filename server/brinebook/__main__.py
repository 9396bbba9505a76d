"""Command line: ``serve``, ``work``, ``migrate``, ``invite``, ``sources``, ``describe``; ``commands`` for keepers."""

import argparse
import os
import sys
import tempfile
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from functools import partial
from pathlib import Path

import msgspec
import uvicorn

from brinebook import clock, logs
from brinebook.access import invites
from brinebook.access.roles import ALL_ROLES
from brinebook.api.description import describe
from brinebook.app import make_app, make_services, run_worker, server_key
from brinebook.commands import RUN, add_parsers
from brinebook.engine.sources import all_sources
from brinebook.jobs import worker_process
from brinebook.jobs.compute_process import ComputeProcess, answer_all, command_for, private_stdout
from brinebook.jobs.one_server import only_one
from brinebook.jobs.worker_process import WorkerProcess
from brinebook.planning.recompute import recompute
from brinebook.push.sender import SilentPushSender
from brinebook.push.web_push import KEY_FILE_NAME, WebPushSender, load_key
from brinebook.records.edited import Team
from brinebook.serving import FINISH_WITHIN_S, Server
from brinebook.settings import Settings, tls_refusal, with_environment
from brinebook.storage.errors import StorageError, StorageUnavailable
from brinebook.storage.repository import Repository
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.sync.errors import SyncError

DRAIN_S = 0.3


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="brinebook", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    serve = commands.add_parser("serve", help="serve the API and the built app")
    serve.add_argument("--port", type=int, default=8000)
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--dist", type=Path, default=None, help="folder of the built app")
    serve.add_argument("--drain-seconds", type=float, default=DRAIN_S, help="say 'not ready' so long before stopping")
    serve.add_argument("--tls-cert", type=Path, default=None, help="certificate chain in PEM; without it no TLS")
    serve.add_argument("--tls-key", type=Path, default=None, help="its key in PEM, readable by the server alone")
    migrate = commands.add_parser("migrate", help="bring the database to the newest form")
    invite = commands.add_parser("invite", help="print a one-use link; makes the team when there is none")
    invite.add_argument("--role", choices=sorted(ALL_ROLES), default="admin")
    invite.add_argument("--name", required=True)
    invite.add_argument("--rider-id", default=None)
    invite.add_argument("--team-id", default=None, help="needed when there is more than one team")
    invite.add_argument("--team-name", default="Team")
    invite.add_argument("--race-name", default="Race")
    invite.add_argument("--time-zone", default="Europe/Paris")
    invite.add_argument("--origin", default="http://localhost:8000", help="address of the server in the link")
    commands.add_parser("sources", help="print the bibliography of the engine")
    commands.add_parser("describe", help="print the API as OpenAPI 3.1, in JSON")
    compute = commands.add_parser("compute", help="compute what a server asks for on standard input (used by serve)")
    work = commands.add_parser("work", help="compute for the servers on a shared PostgreSQL (serve brings one along)")
    work.add_argument(worker_process.WITH_PARENT, action="store_true", help="end when standard input closes")
    for command in (serve, compute, work):
        command.add_argument("--log", choices=logs.FORMS, default="text", help="log in lines, or as JSON objects")
    for command in (serve, migrate, invite, compute, work, *add_parsers(commands)):
        command.add_argument("--data", type=Path, required=True, help="folder of the database and the keys")
    return parser


def _settings(arguments: argparse.Namespace) -> Settings:
    return with_environment(Settings(data=arguments.data), os.environ)


def _open(arguments: argparse.Namespace) -> SqlRepository:
    settings = _settings(arguments)
    return open_repository(settings.data, settings.database_url)


def _serve(arguments: argparse.Namespace) -> int:
    logs.set_up(arguments.log)
    given = Settings(
        data=arguments.data, dist=arguments.dist, host=arguments.host, port=arguments.port,
        tls_cert=arguments.tls_cert, tls_key=arguments.tls_key,
    )
    settings = with_environment(given, os.environ)
    refusal = tls_refusal(settings)
    if refusal is not None:
        print(f"brinebook serve: {refusal}", file=sys.stderr)
        return 2
    # One file has one server; replicas share a PostgreSQL instead.
    with nullcontext() if settings.database_url else only_one(settings.data):
        return _serve_alone(settings, arguments)


def _serve_alone(settings: Settings, arguments: argparse.Namespace) -> int:
    repository = open_repository(settings.data, settings.database_url)
    sender = WebPushSender(load_key(settings.data), contact=settings.push_contact)
    key = server_key((settings.data / KEY_FILE_NAME).read_bytes())
    alone = ComputeProcess(command_for(settings.data, arguments.log))
    services = make_services(settings, repository, sender, key, compute=alone.compute)
    beside = worker_process.command_for(settings.data, arguments.log)
    process = WorkerProcess(beside) if settings.database_url else alone
    try:
        process.start()
        config = uvicorn.Config(
            make_app(services), host=settings.host, port=settings.port, log_level="warning", log_config=None,
            access_log=False, timeout_graceful_shutdown=FINISH_WITHIN_S, proxy_headers=True, server_header=False,
            ssl_certfile=settings.tls_cert, ssl_keyfile=settings.tls_key,
        )
        Server(config, services, drain_s=arguments.drain_seconds).run()
    finally:
        process.close()
        repository.close()
    return 0


def _work(arguments: argparse.Namespace) -> int:
    logs.set_up(arguments.log)
    settings = _settings(arguments)
    if not settings.database_url:
        raise StorageUnavailable("BRINEBOOK_DATABASE_URL names no database: a server on one file computes by itself")
    repository = open_repository(settings.data, settings.database_url)
    try:
        sender = WebPushSender(load_key(settings.data), contact=settings.push_contact)
        run_worker(settings, repository, sender, is_with_parent=arguments.with_parent)
    finally:
        repository.close()
    return 0


def _compute(arguments: argparse.Namespace) -> int:
    logs.set_up(arguments.log)
    repository = _open(arguments)
    try:
        with private_stdout() as stdout:
            answer_all(sys.stdin.buffer, stdout, partial(recompute, repository))
    finally:
        repository.close()
    return 0


def _migrate(arguments: argparse.Namespace) -> int:
    _open(arguments).close()
    return 0


def _team_id(repository: Repository, arguments: argparse.Namespace) -> str:
    known = repository.team_ids()
    if arguments.team_id in known:
        return str(arguments.team_id)
    if arguments.team_id is None and known:
        return known[0]
    made = Team(
        id=arguments.team_id or clock.new_id(), version=1, name=arguments.team_name, race_name=arguments.race_name,
        time_zone=arguments.time_zone,
    )
    repository.add_team(made)
    return made.id


def _invite(arguments: argparse.Namespace) -> int:
    repository = _open(arguments)
    try:
        wanted = invites.Wanted(name=arguments.name, role=arguments.role, rider_id=arguments.rider_id)
        made = invites.invite(repository, _team_id(repository, arguments), wanted)
    finally:
        repository.close()
    print(f"{arguments.origin.rstrip('/')}/#/join/{made.secret}")
    print(f"code to type: {made.code}   valid for 24 hours, for one device")
    return 0


def _sources(_: argparse.Namespace) -> int:
    for key, source in sorted(all_sources().items()):
        print(f"{key}\n    {source.citation}\n    doi: {source.doi or '-'}   used for: {source.used_for}"
              f"\n    measured on: {source.population}")
    return 0


def _describe(_: argparse.Namespace) -> int:
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data=Path(folder))
        repository = open_repository(settings.data, "")
        try:
            told = describe(make_app(make_services(settings, repository, SilentPushSender(), b"")))
        finally:
            repository.close()
    print(msgspec.json.format(msgspec.json.encode(told)).decode())
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "serve": _serve, "migrate": _migrate, "invite": _invite, "sources": _sources, "describe": _describe,
    "compute": _compute, "work": _work,
}


def main(given: Sequence[str] | None = None) -> int:
    """Run one command; what goes wrong is told in one line."""
    arguments = _parser().parse_args(given)
    if "check" in arguments:
        arguments.check(arguments)
    # Whatever a command makes, database, keys and backups, is for this user alone.
    before = os.umask(0o077)
    try:
        if arguments.command in RUN:
            return RUN[arguments.command](arguments, _settings(arguments))
        return COMMANDS[arguments.command](arguments)
    except (StorageError, SyncError) as problem:
        told = ", ".join(f"{name} {value}" for name, value in vars(problem).items())
        print(f"brinebook {arguments.command}: {type(problem).__name__}: {told}", file=sys.stderr)
        return 1
    finally:
        os.umask(before)


if __name__ == "__main__":
    sys.exit(main())
