"""The real server as the harness ill-treats it: killed, stopped, starved of disk, put back to an old dump."""

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing, suppress
from pathlib import Path

import httpx
from brinebook.access import invites
from brinebook.storage.rows import table
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.storage.sqlite import FILE_NAME
from sqlalchemy import update
from support.live import ROOT, free_port
from support.postgres import Cluster

DISK_BYTES = 192 * 1024 * 1024
MUTANTS = Path(__file__).with_name("mutants.py")
START_LIMIT_S = 60


class Disk:
    """A small disk of its own where mounting is allowed; else the server's largest file is limited instead."""

    def __init__(self, parent: Path, *, is_small: bool = True):
        self.folder = parent / "disk"
        self.folder.mkdir()
        self.is_mounted = is_small and self._mounted()
        self.way = "a small disk filled to the last byte" if self.is_mounted else "a limit on the size of its files"

    def _mounted(self) -> bool:
        command = ["mount", "-t", "tmpfs", "-o", f"size={DISK_BYTES},mode=0777", "tmpfs", str(self.folder)]
        return subprocess.run(command, capture_output=True, check=False).returncode == 0

    def fill(self, pid: int) -> None:
        """Leave no room."""
        if not self.is_mounted:
            size = max((path.stat().st_size for path in self.folder.rglob("*") if path.is_file()), default=0)
            limit = (max(1, size // 2), resource.getrlimit(resource.RLIMIT_FSIZE)[1])
            resource.prlimit(pid, resource.RLIMIT_FSIZE, limit)
            return
        with (self.folder / "ballast").open("wb", buffering=0) as ballast, suppress(OSError):
            while ballast.write(b"\0" * 65536):
                pass

    def empty(self, pid: int) -> None:
        """Give the room back."""
        if self.is_mounted:
            (self.folder / "ballast").unlink(missing_ok=True)
        else:
            hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)[1]
            resource.prlimit(pid, resource.RLIMIT_FSIZE, (hard, hard))

    def close(self) -> None:
        """Unmount."""
        if self.is_mounted:
            subprocess.run(["umount", "-l", str(self.folder)], capture_output=True, check=False)


class Host:
    """One server process over one store; SQLite on a small disk, or PostgreSQL in a cluster of its own."""

    def __init__(
        self, *, backend: str = "sqlite", mutant: str = "", folder: Path | None = None, on_small_disk: bool = True,
    ):
        self.parent = Path(tempfile.mkdtemp(prefix="bb-chaos-", dir=folder))
        self.disk = Disk(self.parent, is_small=on_small_disk)
        self.data = self.disk.folder / "data"
        self.data.mkdir()
        self.backend, self.mutant = backend, mutant
        self.cluster: Cluster | None = None
        self.url = ""
        if backend == "postgresql":
            self.cluster = Cluster()
            self.cluster.start()
            self.url = self.cluster.new_database()
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None
        self.dump: str = ""

    def invited(self, team_id: str, role: str) -> str:
        """Invite somebody beside the server; return the join secret."""
        repository = self.repository()
        try:
            return invites.invite(repository, team_id, invites.Wanted(name=role, role=role)).secret
        finally:
            repository.close()

    def repository(self) -> SqlRepository:
        """Open the store beside the server."""
        return open_repository(self.data, self.url)

    def start(self) -> None:
        """Start and wait until it answers."""
        program = [str(MUTANTS), self.mutant] if self.mutant else ["-m", "brinebook"]
        command = [sys.executable, *program, "serve", "--data", str(self.data), "--port", str(self.port)]
        paths = os.pathsep.join([str(ROOT / "server"), str(ROOT / "tests")])
        environment = {**os.environ, "BRINEBOOK_DATABASE_URL": self.url, "PYTHONPATH": paths}
        with (self.parent / "server.log").open("ab") as log:
            self.process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=log, stderr=log)
        until = time.monotonic() + START_LIMIT_S
        while time.monotonic() < until:
            try:
                if httpx.get(f"http://127.0.0.1:{self.port}/api/health", timeout=2).status_code == 200:
                    return
            except httpx.TransportError:
                time.sleep(0.05)
            if self.process.poll() is not None:
                break
        raise TimeoutError((self.parent / "server.log").read_text(errors="replace")[-2000:])

    def pid(self) -> int:
        """Name the running process."""
        assert self.process is not None
        return self.process.pid

    def kill(self) -> None:
        """SIGKILL: no goodbye, no flush."""
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait(timeout=30)
            self.process = None

    def freeze(self, seconds: float) -> None:
        """SIGSTOP, and later SIGCONT."""
        os.kill(self.pid(), signal.SIGSTOP)
        time.sleep(seconds)
        os.kill(self.pid(), signal.SIGCONT)

    def fill_disk(self, seconds: float) -> None:
        """Let the server write nothing for a while."""
        self.disk.fill(self.pid())
        time.sleep(seconds)
        self.disk.empty(self.pid())

    def stop_database(self) -> None:
        """Stop PostgreSQL at once, without a checkpoint, and start it again."""
        assert self.cluster is not None
        self.cluster.stop_at_once()
        self.cluster.start()

    def take_dump(self) -> None:
        """Copy the store as it is, while the server writes."""
        if self.cluster is None:
            self.dump = str(self.parent / "dump.sqlite3")
            with closing(sqlite3.connect(self.data / FILE_NAME)) as live, closing(sqlite3.connect(self.dump)) as copy:
                live.backup(copy)
        else:
            self.kill()
            self.dump = self.cluster.new_database(like=self.url.split("@/")[1].split("?", maxsplit=1)[0])
            self.start()

    def put_back(self) -> bool:
        """Kill the server, put the old dump in place without a word, start again."""
        if not self.dump:
            return False
        self.kill()
        if self.cluster is None:
            for ending in ("-wal", "-shm"):
                (self.data / (FILE_NAME + ending)).unlink(missing_ok=True)
            shutil.copyfile(self.dump, self.data / FILE_NAME)
        else:
            self.url = self.cluster.new_database(like=self.dump.split("@/")[1].split("?", maxsplit=1)[0])
        return True

    def new_epoch(self) -> None:
        """What the restore procedure does: the history put back has another name."""
        rename = update(table("store")).where(table("store").c.name == "epoch").values(value=os.urandom(6).hex())
        repository = self.repository()
        with repository.database.writing() as connection:
            connection.execute(rename)
        repository.close()

    def close(self) -> None:
        """Leave nothing behind."""
        self.kill()
        if self.cluster is not None:
            self.cluster.close()
        self.disk.close()
        shutil.rmtree(self.parent, ignore_errors=True)
