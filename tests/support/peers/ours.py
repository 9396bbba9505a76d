"""Our own server under the peers' load, sign-in, scope and disclosure on."""

import threading
from typing import Any

from brinebook import clock
from support.chaos.host import Host
from support.live import Client
from support.peers.base import Fact, Line, Peer, Silent
from support.world import fill_team

RIDERS = ("r1", "r2", "r3", "r4")


class Ours(Peer):
    """The real server process; each line is a device of its own."""

    def __init__(self, backend: str):
        self.name, self.backend = f"ours, {backend}", backend
        self.durability = "flush on each commit"
        self._lock = threading.Lock()
        self._who: dict[int, tuple[str, str]] = {}
        self._cursors: dict[int, str | None] = {}

    def start(self) -> None:
        """Start with one team."""
        self.host = Host(backend=self.backend, on_small_disk=False)
        repository = self.host.repository()
        fill_team(repository, "red", RIDERS)
        repository.close()
        self.host.start()
        self.port = self.host.port

    def line(self, port: int, *, keeps_open: bool) -> Line:
        """Sign a car's device in."""
        client = Client(f"http://127.0.0.1:{self.host.port}", self.host.invited("red", "car"))
        client.close()
        made = Line(port, {"Authorization": f"Bearer {client.token}"}, keeps_open)
        self._who[id(made)] = (client.member["id"], client.device_id)
        self._cursors[id(made)] = None
        return made

    def _exchange(self, line: Line, facts: list[Fact]) -> dict[str, Any]:
        member_id, device_id = self._who[id(line)]
        events = [{**fact, "by": member_id, "device_id": device_id} for fact in facts]
        cursor = self._cursors[id(line)]
        status, reply = line.call(
            "POST", "/api/exchange", {"protocol": 2, "device_id": device_id, "cursor": cursor, "events": events},
        )
        if status != 200:
            raise Silent
        self._cursors[id(line)] = reply["cursor"]
        return reply

    def write(self, line: Line, facts: list[Fact]) -> set[str]:
        """One exchange: facts up, verdicts down, and what other devices wrote since."""
        verdicts = self._exchange(line, facts)["verdicts"]
        return {verdict["id"] for verdict in verdicts if verdict["status"] in {"ok", "dup"}}

    def stored(self) -> list[str]:
        """Read the store itself."""
        repository = self.host.repository()
        try:
            return [event.id for event in repository.events_for_team("red")]
        finally:
            repository.close()

    def follow(self, line: Line, place: Any) -> tuple[list[str], Any]:
        """Pull one page."""
        reply = self._exchange(line, [])
        return [event["id"] for _, event in reply["events"]], place

    def stop(self) -> None:
        """Leave nothing behind."""
        self.host.close()


def fact(n: int) -> Fact:
    """Write one fact as a rider's phone does; the same record goes to every store."""
    return {
        "id": clock.new_id(), "kind": "drank", "v": 1, "subject_id": RIDERS[n % len(RIDERS)], "by": "", "device_id": "",
        "n": n, "lamport": n, "at_ms": clock.now_ms(), "offset_ms": 12, "tz_min": 120, "stage_id": "stage-01",
        "body": {"volume_l": 0.25, "how": "level", "drink_id": "standard", "bottle": "down_tube",
                 "level_before_frac": 1.0, "level_after_frac": 0.5, "km": 42.1},
    }


