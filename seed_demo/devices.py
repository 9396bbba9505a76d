"""One phone or tablet speaking the exchange: an outbox that only an answer empties, a cursor, and what came down."""

import random
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import httpx
import msgspec

PROTOCOL = 1
BATCH = 100
PATIENCE_S = 120.0
TRIES = 6


class PlayProblem(Exception):
    """The server answered something a device cannot go on with."""


def uuid7(at_ms: int, rng: random.Random) -> str:
    """Make a time-ordered id from an instant and a seeded generator."""
    value = (at_ms & (1 << 48) - 1) << 80 | 0x7 << 76 | rng.getrandbits(12) << 64 | 0b10 << 62 | rng.getrandbits(62)
    text = f"{value:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


class Api:
    """JSON over one kept-alive connection, with one person's token."""

    def __init__(self, base_url: str, token: str | None = None) -> None:
        self._http = httpx.Client(base_url=base_url, timeout=PATIENCE_S)
        if token is not None:
            self._http.headers["Authorization"] = f"Bearer {token}"

    def call(self, method: str, path: str, *, json: object = None, content: str | None = None) -> Any:
        """Send one request and return the decoded answer; a refusal becomes ``PlayProblem`` in the server's words."""
        data = content.encode() if content is not None else msgspec.json.encode(json) if json is not None else b""
        kind = "text/plain" if content is not None else "application/json"
        if content is not None:
            kind = "application/gpx+xml" if content.startswith("<?xml") else "text/csv"
        answer = self._http.request(method, path, content=data, headers={"Content-Type": kind} if data else {})
        if answer.status_code >= 400:
            raise PlayProblem(f"{method} {path}: {answer.status_code} {answer.text[:600]}")
        return msgspec.json.decode(answer.content) if answer.content else None

    def close(self) -> None:
        """Close the connection."""
        self._http.close()


@dataclass
class Tally:
    """What happened on the way, summed over devices."""

    n_made: int = 0
    verdicts: Counter[str] = field(default_factory=Counter)
    n_lost_replies: int = 0
    n_exchanges: int = 0
    rejected: list[str] = field(default_factory=list)


class Device:
    """A signed-in device. ``exchange`` is the only way out and in; until it is called the device is offline."""

    def __init__(self, base_url: str, joined: dict[str, Any], seed: str) -> None:
        self.api = Api(base_url, joined["token"])
        self.member: dict[str, Any] = joined["member"]
        self.device_id: str = joined["device_id"]
        self.team_id: str = joined["team"]["id"]
        self.outbox: list[dict[str, Any]] = []
        self.events: dict[str, tuple[int, dict[str, Any]]] = {}
        self.documents: dict[str, dict[str, Any]] = {}
        self.tally = Tally()
        self.made_ids: list[str] = []
        self.n_doubled = 0
        self._rng = random.Random(seed)
        self._cursor: str | None = None
        self._n = 0
        self._lamport = 0
        self._loses_next_reply = False

    def fact(
        self, kind: str, subject_id: str, body: dict[str, Any], *, at_ms: int, stage_id: str | None = None,
    ) -> dict[str, Any]:
        """Write a fact into the outbox, as a tap on the screen does."""
        self._n += 1
        self._lamport += 1
        event = {
            "id": uuid7(at_ms, self._rng), "kind": kind, "subject_id": subject_id, "by": self.member["id"],
            "device_id": self.device_id, "n": self._n, "lamport": self._lamport, "at_ms": at_ms, "tz_min": 120,
            "body": body,
        }
        if stage_id is not None:
            event["stage_id"] = stage_id
        self.outbox.append(event)
        self.made_ids.append(event["id"])
        self.tally.n_made += 1
        return event

    def lose_next_reply(self) -> None:
        """Let the next push arrive and its answer get lost, so that the same ids are sent again."""
        self._loses_next_reply = bool(self.outbox)

    def exchange(self) -> None:
        """Push the outbox in batches and pull to the end."""
        while True:
            batch = self.outbox[:BATCH]
            reply = self._send(batch)
            if self._loses_next_reply:
                self._loses_next_reply = False
                self.tally.n_lost_replies += 1
                continue
            self._settle(batch, reply["verdicts"])
            self._take(reply)
            if not reply["more"] and not self.outbox:
                return

    def _send(self, batch: list[dict[str, Any]]) -> dict[str, Any]:
        request = {"protocol": PROTOCOL, "device_id": self.device_id, "cursor": self._cursor, "events": batch}
        self.tally.n_exchanges += 1
        for left in reversed(range(TRIES)):
            try:
                answer: dict[str, Any] = self.api.call("POST", "/api/exchange", json=request)
            except httpx.TransportError:
                if left == 0:
                    raise
            else:
                return answer
        raise PlayProblem("unreachable")

    def _settle(self, batch: list[dict[str, Any]], verdicts: list[dict[str, Any]]) -> None:
        told = {verdict["id"]: verdict for verdict in verdicts}
        for event in batch:
            verdict = told.get(event["id"])
            if verdict is None or verdict["status"] == "retry":
                raise PlayProblem(f"no verdict for {event['kind']} {event['id']}: {verdict}")
            self.tally.verdicts[verdict["status"]] += 1
            if verdict["status"] not in ("ok", "dup"):
                self.tally.rejected.append(f"{event['kind']} {event['subject_id']}: {verdict}")
        self.outbox = [event for event in self.outbox if event["id"] not in told]

    def _take(self, reply: dict[str, Any]) -> None:
        if reply.get("reset"):
            self.events, self.documents = {}, {}
        for seq, event in reply["events"]:
            if event["device_id"] == self.device_id:
                self._n = max(self._n, event["n"])
            known = self.events.get(event["id"])
            self.n_doubled += known is not None and known[0] != seq
            self.events[event["id"]] = (seq, event)
            self._lamport = max(self._lamport, event["lamport"])
        for document in reply["documents"]:
            if document.get("body") is None:
                self.documents.pop(document["id"], None)
            else:
                self.documents[document["id"]] = document
        self._cursor = reply["cursor"]

    def body(self, document_id: str) -> dict[str, Any] | None:
        """Read one document as last seen by this device."""
        document = self.documents.get(document_id)
        return None if document is None else document["body"]

    def bodies(self, type_: str) -> list[dict[str, Any]]:
        """List the documents of one type as last seen by this device."""
        return [document["body"] for document in self.documents.values() if document["type"] == type_]
