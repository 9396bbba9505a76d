"""What a load needs from any store of records, ours or another: start, write many, read all, follow the feed."""

import http.client
import json
import subprocess
from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from typing import Any

ANSWER_WITHIN_S = 20.0
Fact = dict[str, Any]


class Silent(Exception):
    """No usable answer; the same batch is to be sent again."""


@dataclass
class Line:
    """One client's connection; ``port`` may be the store's own or that of a bad network before it."""

    port: int
    headers: dict[str, str]
    keeps_open: bool = True
    connection: http.client.HTTPConnection | None = field(default=None, repr=False)

    def call(self, method: str, path: str, body: object = None) -> tuple[int, Any]:
        """Send one request; raise ``Silent`` when no whole answer comes."""
        if self.connection is None:
            self.connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=ANSWER_WITHIN_S)
        extra = {} if self.keeps_open else {"Connection": "close"}
        try:
            content = None if body is None else json.dumps(body).encode()
            self.connection.request(method, path, content, {**self.headers, **extra})
            answer = self.connection.getresponse()
            raw = answer.read()
            told = json.loads(raw) if raw else {}
        except (OSError, http.client.HTTPException, ValueError) as problem:
            self.close()
            raise Silent from problem
        if not self.keeps_open:
            self.close()
        return answer.status, told

    def close(self) -> None:
        """Hang up."""
        if self.connection is not None:
            self.connection.close()
            self.connection = None


class Peer(ABC):
    """One store under load."""

    name: str
    durability: str
    port: int
    process: subprocess.Popen[bytes] | None = None

    @abstractmethod
    def start(self) -> None:
        """Start and make what the records go into."""

    @abstractmethod
    def line(self, port: int, *, keeps_open: bool) -> Line:
        """Give a signed-in client."""

    @abstractmethod
    def write(self, line: Line, facts: list[Fact]) -> set[str]:
        """Write a batch as the store's documents say; return the ids it says are kept."""

    @abstractmethod
    def stored(self) -> list[str]:
        """List the ids of all records, repetitions included."""

    @abstractmethod
    def follow(self, line: Line, place: Any) -> tuple[list[str], Any]:
        """Read on in the feed as the store's documents say; return new ids and the next place."""

    def stop(self) -> None:
        """End the process."""
        if self.process is not None:
            self.process.terminate()
            try:
                self.process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait(timeout=20)
            self.process = None


def needs(condition: object, why: object) -> None:
    """Stop with a reason when a peer does not do what its documents say."""
    if not condition:
        raise RuntimeError(str(why))
