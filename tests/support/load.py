"""Phones for measuring a server: plain sockets, requests made beforehand, as little work of their own as can be."""

import json
import os
import socket
import time
from dataclasses import dataclass, field
from pathlib import Path

from brinebook import clock

TICKS_PER_S = os.sysconf("SC_CLK_TCK")


def cpu_s(pid: int) -> float:
    """Read the processor time a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICKS_PER_S


def percentile(values: list[float], share: float) -> float:
    """Give the value below which the share of all lies."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


@dataclass
class Line:
    """One device's connection; keeps the cursor as a phone does."""

    port: int
    token: str
    member_id: str
    device_id: str
    rider_ids: tuple[str, ...]
    cursor: str | None = None
    took_s: list[float] = field(default_factory=list)
    n_facts: int = 0
    n: int = 0
    is_kept: bool = True

    def connect(self) -> None:
        """Open the connection, and again when the listener's queue was full."""
        self.socket = socket.create_connection(("127.0.0.1", self.port), timeout=60)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def close(self) -> None:
        """Close the connection."""
        self.socket.close()

    def fact(self) -> str:
        """Write one fact as a rider's phone does."""
        self.n += 1
        return json.dumps({
            "id": clock.new_id(), "kind": "drank", "v": 1, "subject_id": self.rider_ids[self.n % len(self.rider_ids)],
            "by": self.member_id, "device_id": self.device_id, "n": self.n, "lamport": self.n,
            "at_ms": clock.now_ms(), "offset_ms": 12, "tz_min": 120, "stage_id": "stage-01",
            "body": {"volume_l": 0.25, "how": "level", "drink_id": "standard", "bottle": "down_tube",
                     "level_before_frac": 1.0, "level_after_frac": 0.5, "km": 42.1},
        })

    def facts(self, n_facts: int) -> str:
        """Write a batch."""
        return ",".join(self.fact() for _ in range(n_facts))

    def exchange(self, facts: str = "") -> dict:
        """Send one batch and read the reply."""
        body = (
            f'{{"protocol":3,"device_id":"{self.device_id}","cursor":{json.dumps(self.cursor)},"events":[{facts}]}}'
        ).encode()
        head = (
            f"POST /api/exchange HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {self.token}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
        ).encode()
        began = time.perf_counter()
        self.socket.sendall(head + body)
        status, answer = self._read()
        self.took_s.append(time.perf_counter() - began)
        assert status == 200, answer[:300]
        reply = json.loads(answer)
        self.cursor = reply["cursor"]
        return reply

    def _read(self) -> tuple[int, bytes]:
        data = b""
        while b"\r\n\r\n" not in data:
            data += self._more()
        head, rest = data.split(b"\r\n\r\n", 1)
        length = next(int(line.split(b":")[1]) for line in head.lower().split(b"\r\n") if b"content-length" in line)
        parts, n_bytes = [rest], len(rest)
        while n_bytes < length:
            parts.append(self._more())
            n_bytes += len(parts[-1])
        return int(head.split(b" ", 2)[1]), b"".join(parts)

    def _more(self) -> bytes:
        found = self.socket.recv(1 << 18)
        if not found:
            raise ConnectionError("the server hung up")
        return found
