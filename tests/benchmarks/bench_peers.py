"""
The same load against ours and against stores that install from the registries, side by side.

``python3 tests/benchmarks/bench_peers.py --seconds 10`` installs the peers into a temporary folder (``--folder``
keeps it), writes 50 facts per request over 1, 4 and 8 connections while a reader follows the feed, then reads
everything back; then once more over a network that cuts, loses, doubles and delays. Every client sends the same
records again until it hears that they are kept.
"""

import argparse
import os
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BATCH = 50
CONNECTIONS = (1, 4, 8)
QUIET_POLLS = 3
HEAD = (f"{'store':<20} {'load':<14} {'records/s':>9} {'p50 ms':>7} {'p95':>7} {'p99':>7} {'lost':>6} {'doubled':>8} "
        f"{'never delivered':>16}")


def _in_venv() -> None:
    sys.path.insert(0, str(ROOT))
    from seed_demo.bootstrap import prepare, venv_python

    if Path(sys.prefix).resolve() != (ROOT / ".venv").resolve():
        prepare()
        os.execv(venv_python(), [str(venv_python()), __file__, *sys.argv[1:]])  # noqa: S606
    sys.path.insert(0, str(ROOT / "tests"))


@dataclass
class Outcome:
    """What one load measured."""

    peer: str
    way: str
    seconds: float = 0.0
    acknowledged: set[str] = field(default_factory=set)
    sent: set[str] = field(default_factory=set)
    took_s: list[float] = field(default_factory=list)
    n_silences: int = 0
    lost: int = 0
    doubled: int = 0
    undelivered: int = 0

    def row(self) -> str:
        """Give one line of the table."""
        ordered = sorted(self.took_s) or [0.0]
        marks = " ".join(f"{1000 * ordered[min(len(ordered) - 1, int(share * len(ordered)))]:7.0f}"
                         for share in (0.5, 0.95, 0.99))
        rate = len(self.acknowledged) / self.seconds if self.seconds else 0.0
        return (f"{self.peer:<20} {self.way:<14} {rate:9.0f} {marks} {self.lost:6d} {self.doubled:8d} "
                f"{self.undelivered:16d}")


class Load:
    """Writers and one reader of the feed."""

    def __init__(self, peer, *, n_connections: int, seconds: float, port: int, keeps_open: bool, way: str):
        self.peer, self.seconds = peer, seconds
        self.outcome = Outcome(peer.name, way)
        self.lines = [peer.line(port, keeps_open=keeps_open) for _ in range(n_connections)]
        self.reader = peer.line(peer.port, keeps_open=False)
        self.seen: set[str] = set()
        self.is_over = threading.Event()
        self._lock = threading.Lock()

    def _write(self, line) -> None:
        from support.peers.base import Silent
        from support.peers.ours import fact

        until = time.monotonic() + self.seconds
        n = 0
        while time.monotonic() < until:
            facts = [fact(n + place) for place in range(BATCH)]
            n += BATCH
            with self._lock:
                self.outcome.sent |= {one["id"] for one in facts}
            waiting = {one["id"]: one for one in facts}
            while waiting and time.monotonic() < until + 30:
                began = time.monotonic()
                try:
                    kept = self.peer.write(line, list(waiting.values()))
                except Silent:
                    self.outcome.n_silences += 1
                    continue
                with self._lock:
                    self.outcome.took_s.append(time.monotonic() - began)
                    self.outcome.acknowledged |= kept
                for id_ in kept:
                    waiting.pop(id_, None)

    def _follow(self) -> None:
        from support.peers.base import Silent

        place, n_quiet = None, 0
        while n_quiet < QUIET_POLLS:
            try:
                ids, place = self.peer.follow(self.reader, place)
            except Silent:
                continue
            self.seen |= set(ids)
            n_quiet = n_quiet + 1 if self.is_over.is_set() and not ids else 0
            if not ids:
                time.sleep(0.2)

    def run(self, earlier: set[str]) -> Outcome:
        """Run the load; compare what was acknowledged, what is stored and what the feed gave."""
        writers = [threading.Thread(target=self._write, args=(line,)) for line in self.lines]
        reader = threading.Thread(target=self._follow)
        began = time.monotonic()
        for thread in [reader, *writers]:
            thread.start()
        for thread in writers:
            thread.join()
        self.outcome.seconds = time.monotonic() - began
        self.is_over.set()
        reader.join()
        stored = self.peer.stored()
        mine = [id_ for id_ in stored if id_ not in earlier]
        self.outcome.lost = len(self.outcome.acknowledged - set(mine))
        self.outcome.doubled = len(mine) - len(set(mine))
        self.outcome.undelivered = len(set(mine) - self.seen)
        for line in [*self.lines, self.reader]:
            line.close()
        return self.outcome


def _measure(peer, seconds: float, seed: int) -> list[Outcome]:
    from support.chaos.proxy import NETWORK_ONLY, Proxy
    from support.chaos.tally import Tally

    outcomes = []
    try:
        peer.start()
        for n_connections in CONNECTIONS:
            load = Load(peer, n_connections=n_connections, seconds=seconds, port=peer.port, keeps_open=True,
                        way=f"{n_connections} connection{'s' if n_connections > 1 else ''}")
            outcomes.append(load.run(set(peer.stored())))
            print(outcomes[-1].row(), flush=True)
        proxy = Proxy(peer.port, Tally(), seed=seed, fates=NETWORK_ONLY)
        proxy.is_hostile = True
        load = Load(peer, n_connections=4, seconds=seconds, port=proxy.port, keeps_open=False, way="4, bad network")
        outcomes.append(load.run(set(peer.stored())))
        print(outcomes[-1].row(), flush=True)
        proxy.close()
    finally:
        peer.stop()
    return outcomes


def main() -> int:
    """Install the peers, load each, print the table; non-zero when ours lost, doubled or withheld anything."""
    parser = argparse.ArgumentParser(prog="python3 tests/benchmarks/bench_peers.py", description=__doc__)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, default=None, help="where the peers are installed, and stay")
    parser.add_argument("--only", choices=["ours", "kinto", "pouchdb"], action="append")
    arguments = parser.parse_args()
    _in_venv()
    from support.peers import kinto, pouchdb_server
    from support.peers.ours import Ours

    wanted = arguments.only or ["ours", "kinto", "pouchdb"]
    is_good = True
    with tempfile.TemporaryDirectory(prefix="bb-peers-") as passing:
        folder = arguments.folder or Path(passing)
        print(HEAD)
        if "ours" in wanted:
            for backend in ("sqlite", "postgresql"):
                outcomes = _measure(Ours(backend), arguments.seconds, arguments.seed)
                is_good = is_good and not any(one.lost + one.doubled + one.undelivered for one in outcomes)
        if "kinto" in wanted:
            kinto.install(folder / "kinto")
            _measure(kinto.Kinto(folder / "kinto"), arguments.seconds, arguments.seed)
        if "pouchdb" in wanted:
            pouchdb_server.install(folder / "pouchdb")
            _measure(pouchdb_server.PouchdbServer(folder / "pouchdb"), arguments.seconds, arguments.seed)
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main())
