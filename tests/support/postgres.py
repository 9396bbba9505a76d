"""A PostgreSQL of its own in a temporary folder, started from installed programs, on a unix socket only."""

import atexit
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import psycopg
import pytest

PLACES = ("/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin", "/usr/local/pgsql/bin", "/opt/homebrew/opt/postgresql*/bin")
START_LIMIT_S = 60
QUICK = ("fsync=off", "synchronous_commit=off", "full_page_writes=off")
"""Settings for tests that never pull the plug."""


class NoPostgres(Exception):
    """There is nothing to start, or it does not start."""


def programs() -> Path:
    """Find the folder of the newest installed ``initdb``."""
    on_path = shutil.which("initdb")
    found = [Path(on_path).parent] if on_path else []
    for place in PLACES:
        found += [path for path in Path("/").glob(place.lstrip("/")) if (path / "initdb").exists()]
    if not found:
        raise NoPostgres("no PostgreSQL programs are installed (Debian: apt-get install -y postgresql)")
    return max(found, key=lambda path: [int(part) for part in path.parts if part.isdigit()])


def _user() -> tuple[list[str], pwd.struct_passwd | None]:
    """Give what to put before a command: PostgreSQL refuses to run as root."""
    if os.geteuid() != 0:
        return [], None
    for name in ("postgres", "nobody"):
        try:
            entry = pwd.getpwnam(name)
        except KeyError:
            continue
        if shutil.which("setpriv"):
            return ["setpriv", f"--reuid={entry.pw_uid}", f"--regid={entry.pw_gid}", "--clear-groups"], entry
    raise NoPostgres("running as root, and there is neither setpriv nor a user to run PostgreSQL as")


class Cluster:
    """One server process; the folder outlives it, so that a test may stop it hard and start it again."""

    def __init__(self, *, settings: tuple[str, ...] = ()):
        self.bin, self.settings = programs(), settings
        self.before, entry = _user()
        self.folder = Path(tempfile.mkdtemp(prefix="bb-pg-"))
        self.folder.chmod(0o755)
        (self.folder / "s").mkdir()
        if entry is not None:
            os.chown(self.folder, entry.pw_uid, entry.pw_gid)
            os.chown(self.folder / "s", entry.pw_uid, entry.pw_gid)
        self._run("initdb", "-D", f"{self.folder}/data", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync")
        self.process: subprocess.Popen[bytes] | None = None
        self.n_databases = 0

    def _run(self, program: str, *arguments: str) -> None:
        command = [*self.before, str(self.bin / program), *arguments]
        done = subprocess.run(command, cwd="/", capture_output=True, text=True, check=False)
        if done.returncode:
            raise NoPostgres(f"{program}: {done.stderr.strip() or done.stdout.strip()}")

    def start(self) -> None:
        """Start and wait until it answers."""
        options = [word for setting in self.settings for word in ("-c", setting)]
        command = [
            *self.before, str(self.bin / "postgres"), "-D", f"{self.folder}/data", "-k", f"{self.folder}/s",
            "-c", "listen_addresses=", "-c", "max_connections=300", *options,
        ]
        with (self.folder / "server.log").open("ab") as log:
            self.process = subprocess.Popen(command, cwd="/", stdout=log, stderr=log)
        until = time.monotonic() + START_LIMIT_S
        while time.monotonic() < until:
            try:
                psycopg.connect(self.url("postgres")).close()
            except psycopg.OperationalError:
                time.sleep(0.05)
            else:
                return
        raise NoPostgres((self.folder / "server.log").read_text(errors="replace")[-2000:])

    def url(self, database: str) -> str:
        """Give the address of a database."""
        return f"postgresql://postgres@/{database}?host={self.folder}/s"

    def new_database(self, *, like: str = "template1") -> str:
        """Make a database; give its address."""
        self.n_databases += 1
        name = f"book{self.n_databases}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{like}"'.encode())
        return self.url(name)

    def drop(self, url: str) -> None:
        """Throw a database away, whoever still looks at it."""
        name = url.split("@/")[1].split("?", maxsplit=1)[0]
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)'.encode())

    def stop_at_once(self) -> None:
        """Stop without a checkpoint, as a power cut would, save that the disk's own cache survives."""
        if self.process is not None:
            self.process.send_signal(signal.SIGQUIT)
            self.process.wait(timeout=30)
            self.process = None

    def close(self) -> None:
        """Stop and remove everything."""
        self.stop_at_once()
        shutil.rmtree(self.folder, ignore_errors=True)


@cache
def shared() -> Cluster:
    """Give the one quick cluster of this test run."""
    made = Cluster(settings=QUICK)
    atexit.register(made.close)
    made.start()
    return made


def shared_or_skip() -> Cluster:
    """Give the shared cluster, or skip the test and say why."""
    try:
        return shared()
    except NoPostgres as problem:
        pytest.skip(str(problem))


BACKENDS = ("sqlite", "postgresql")


@contextmanager
def database() -> Iterator[str]:
    """Lend an empty database; give its address."""
    cluster = shared_or_skip()
    url = cluster.new_database()
    try:
        yield url
    finally:
        cluster.drop(url)


@contextmanager
def address(backend: str) -> Iterator[str]:
    """Lend an empty database of either kind; the address of a file is empty, since its folder says where it lies."""
    if backend == "sqlite":
        yield ""
        return
    with database() as url:
        yield url
