"""The worker a server on a shared database brings along; it ends with its parent, and starts again if it dies."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

from brinebook.jobs.compute_process import NICENESS
from brinebook.logs import Form

START_AGAIN_S = 2.0
GRACE_S = 10.0
WITH_PARENT = "--with-parent"


def command_for(data: Path, log: Form = "text") -> list[str]:
    """Give the command of a worker that ends with its parent."""
    return [sys.executable, "-m", "brinebook", "work", "--data", str(data), "--log", log, WITH_PARENT]


def end_with_parent() -> None:
    """Ask this process to stop as soon as its standard input closes; facts come first, so it is niced too."""
    with contextlib.suppress(OSError):
        os.nice(NICENESS)

    def wait() -> None:
        sys.stdin.buffer.read()
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=wait, name="parent", daemon=True).start()


class WorkerProcess:
    """Keeps one worker running."""

    def __init__(self, command: Sequence[str]) -> None:
        self._command = list(command)
        self._is_closed = threading.Event()
        self._thread = threading.Thread(target=self._run, name="worker", daemon=True)
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it."""
        self._thread.start()

    def _run(self) -> None:
        while not self._is_closed.is_set():
            self.process = subprocess.Popen(  # noqa: S603 our own program, our own arguments
                self._command, stdin=subprocess.PIPE, start_new_session=True,
            )
            self.process.wait()
            if self.process.stdin is not None:
                self.process.stdin.close()
            self._is_closed.wait(START_AGAIN_S)

    def close(self) -> None:
        """Let it finish what it does, then end it."""
        self._is_closed.set()
        process = self.process
        if process is not None and process.stdin is not None:
            process.stdin.close()
            try:
                process.wait(GRACE_S)
            except subprocess.TimeoutExpired:
                process.kill()
        self._thread.join(timeout=GRACE_S)
