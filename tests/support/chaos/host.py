"""The real server as the harness ill-treats it: killed, stopped, starved of disk, put back to an old dump."""

import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path

import httpx
from brinebook import clock
from brinebook.access import invites
from brinebook.storage.backup import backup
from brinebook.storage.ledger import Erasure, write_down
from brinebook.storage.rows import table
from brinebook.storage.sql import SqlRepository, open_repository
from brinebook.sync.erase import erase_subject
from brinebook.sync.restore import Restored, StillServing, restore
from support.live import ROOT, free_port
from support.postgres import Cluster

DISK_BYTES = 192 * 1024 * 1024
MUTANTS = Path(__file__).with_name("mutants.py")
START_LIMIT_S = 180


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
        self.dump: Path | None = None
        self.n_dumps = 0

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
        """Back the store up while the server writes."""
        self.n_dumps += 1
        target = self.parent / f"dump-{self.n_dumps}.sqlite3"
        repository = self.repository()
        try:
            backup(repository, target)
        finally:
            repository.close()
        if self.dump is not None:
            self.dump.unlink()
        self.dump = target

    def put_back(self, *, is_announced: bool) -> bool:
        """Kill the server, bring the old dump back; unannounced, the history keeps its name, as a copied file does."""
        if self.dump is None:
            return False
        self.kill()
        repository = self.repository()
        epoch = repository.epoch()
        repository.close()
        done = self._restored(self.dump)
        for ending in ("", "-wal", "-shm") if done.set_aside else ():
            Path(done.set_aside + ending).unlink(missing_ok=True)
        if not is_announced:
            store = table("store")
            repository = self.repository()
            with repository.database.writing() as connection:
                connection.execute(store.update().where(store.c.name == "epoch").values(value=epoch))
            repository.close()
        return True

    def _restored(self, dump: Path) -> Restored:
        until = time.monotonic() + START_LIMIT_S
        while True:
            try:
                return restore(self.data, self.url, dump)
            except StillServing:
                # PostgreSQL notices a killed client a moment later.
                if time.monotonic() > until:
                    raise
                time.sleep(0.1)

    def erase(self, team_id: str, subject_id: str) -> None:
        """Forget a rider for ever, as the command does."""
        repository = self.repository()
        erasure = Erasure(team_id=team_id, subject_id=subject_id, erased_at_ms=clock.now_ms())
        try:
            erase_subject(repository, erasure, write_down=lambda one: write_down(self.data, [one]))
        finally:
            repository.close()

    def close(self) -> None:
        """Leave nothing behind."""
        self.kill()
        if self.cluster is not None:
            self.cluster.close()
        self.disk.close()
        shutil.rmtree(self.parent, ignore_errors=True)
