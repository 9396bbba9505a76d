"""A process of its own for the arithmetic, so that computing never holds up an exchange; it ends with its parent."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import IO

import msgspec
from msgspec import Struct

from brinebook.jobs.recompute_queue import describe
from brinebook.logs import Form
from brinebook.planning.recompute import Changed
from brinebook.storage.repository import Repository

NICENESS = 5
"""Facts come first: what is computed from them may wait a little."""


class Asked(Struct, frozen=True, array_like=True):
    """One computation to do."""

    team_id: str
    changed: Changed


class Answered(Struct, frozen=True, array_like=True):
    """What became of it; ``problem`` is empty when it went well."""

    problem: str = ""


class ComputeFailed(Exception):
    """The other process failed or is gone; its words name places in code, never values."""


@contextlib.contextmanager
def private_stdout() -> Iterator[IO[bytes]]:
    """Keep standard output for answers: whatever a library prints goes to standard error instead."""
    sys.stdout.flush()
    kept = os.dup(1)
    os.dup2(2, 1)
    with os.fdopen(kept, "wb") as stdout:
        yield stdout


def answer_all(stdin: IO[bytes], stdout: IO[bytes], work: Callable[[str, Changed], None]) -> None:
    """Compute what comes in, line by line, until the parent hangs up."""
    with contextlib.suppress(OSError):
        os.nice(NICENESS)
    # A key pressed in the terminal reaches both processes; the parent decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(BrokenPipeError):
        for line in stdin:
            stdout.write(msgspec.json.encode(_answer(line, work)) + b"\n")
            stdout.flush()


def _answer(line: bytes, work: Callable[[str, Changed], None]) -> Answered:
    try:
        asked = msgspec.json.decode(line, type=Asked)
        work(asked.team_id, asked.changed)
    except Exception as problem:  # noqa: BLE001 one failed computation must not end the others
        return Answered(describe(problem))
    return Answered()


def command_for(data: Path, log: Form = "text") -> list[str]:
    """Give the command that computes on the database of a data folder; the environment names another database."""
    return [sys.executable, "-m", "brinebook", "compute", "--data", str(data), "--log", log]


class ComputeProcess:
    """Hands computations over one at a time; a process that died is started again for the next one."""

    def __init__(self, command: Sequence[str]) -> None:
        self._command = list(command)
        self._process: subprocess.Popen[bytes] | None = None
        self._turn = threading.Lock()
        self._is_closed = False

    def start(self) -> None:
        """Start the process ahead of its first work: it takes a second or two to load."""
        if self._process is None and not self._is_closed:
            self._process = subprocess.Popen(  # noqa: S603 our own program, our own arguments
                self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            )

    def compute(self, _repository: Repository, team_id: str, changed: Changed) -> None:
        """Have one computation done, or raise ``ComputeFailed``."""
        with self._turn:
            self.start()
            if self._process is None:
                raise ComputeFailed("closed")
            answered = self._ask(self._process, Asked(team_id, changed))
        if answered.problem:
            raise ComputeFailed(answered.problem)

    def _ask(self, process: subprocess.Popen[bytes], asked: Asked) -> Answered:
        line = b""
        with contextlib.suppress(OSError):
            if process.stdin is not None and process.stdout is not None:
                process.stdin.write(msgspec.json.encode(asked) + b"\n")
                process.stdin.flush()
                line = process.stdout.readline()
        try:
            return msgspec.json.decode(line, type=Answered)
        except msgspec.DecodeError:
            # What is no answer may be followed by the real one, and every later answer would be an earlier question's.
            self._let_go(process)
            return Answered("the process is gone, or said what is no answer")

    def _let_go(self, process: subprocess.Popen[bytes]) -> None:
        process.kill()
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()
        self._process = None

    def close(self) -> None:
        """End the process; what it was computing is computed again after the next start."""
        self._is_closed = True
        process = self._process
        if process is not None:
            process.kill()
            with self._turn:
                if self._process is not None:
                    self._let_go(process)
