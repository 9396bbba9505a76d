"""No answer without the disk: before each 200 to a push the store was flushed. The kernel's own log is the witness."""

import re
import shutil
import signal
import subprocess
import time
from pathlib import Path

import pytest
from support.chaos.host import Host
from support.live import Client
from support.world import fill_team

STRACE = shutil.which("strace")
N_PUSHES = 12
TRACED = "trace=fdatasync,fsync,sendto,write,writev,sendmsg"
ANSWER = re.compile(r'"HTTP/1\.1 200')
FLUSH = re.compile(r"\b(fdatasync|fsync)\(")

pytestmark = pytest.mark.skipif(STRACE is None, reason="strace is not installed (Debian: apt-get install -y strace)")


class Tracer:
    """Watches one process and all its threads."""

    def __init__(self, pid: int, log: Path):
        self.log = log
        command = [STRACE, "-f", "-qq", "-s", "16", "-e", TRACED, "-e", "signal=none", "-o", str(log), "-p", str(pid)]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        until = time.monotonic() + 10
        while not self._is_attached(pid) and time.monotonic() < until:
            time.sleep(0.02)

    @staticmethod
    def _is_attached(pid: int) -> bool:
        status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
        return re.search(r"TracerPid:\t([1-9]\d*)", status) is not None

    def lines(self) -> list[str]:
        """Let go and read what was seen."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        said = self.process.communicate(timeout=20)[1].decode()
        if "Operation not permitted" in said:
            pytest.skip(f"this machine does not let one process watch another: {said.strip()}")
        return self.log.read_text(encoding="utf-8", errors="replace").splitlines()


def _flushes_before_answers(mutant: str, log: Path) -> list[int]:
    """Push a fact at a time; count the flushes since the last answer before each answer."""
    host = Host(mutant=mutant, folder=log.parent)
    try:
        repository = host.repository()
        fill_team(repository, "red", ("r1",))
        repository.close()
        host.start()
        phone = Client(f"http://127.0.0.1:{host.port}", host.invited("red", "car"))
        phone.settled()
        tracer = Tracer(host.pid(), log)
        for _ in range(N_PUSHES):
            assert phone.exchange(phone.fact("drank", "r1", {"volume_l": 0.25, "how": "level"}))[0]["status"] == "ok"
        lines = tracer.lines()
        phone.close()
    finally:
        host.close()
    counts, n_flushes = [], 0
    for line in lines:
        n_flushes += FLUSH.search(line) is not None
        if ANSWER.search(line):
            counts.append(n_flushes)
            n_flushes = 0
    return counts


def test_every_answer_to_a_push_waits_for_the_disk(tmp_path):
    counts = _flushes_before_answers("", tmp_path / "trace")

    print(f"flushes before each of {len(counts)} answers: {counts}")
    assert len(counts) == N_PUSHES
    assert min(counts) >= 1


def test_a_store_that_does_not_wait_is_noticed(tmp_path):
    counts = _flushes_before_answers("synchronous off", tmp_path / "trace")

    assert len(counts) == N_PUSHES
    assert min(counts) == 0
