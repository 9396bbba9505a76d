"""A phone by the same rules as the app's: outbox by verdict only, page and cursor at once, authored facts kept."""

import hashlib
import http.client
import json
import random
import threading
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any, TypeVar

from brinebook import clock

ANSWER_WITHIN_S = 10.0
MOST_EVENTS = 60
Fact = dict[str, Any]
T = TypeVar("T")


class Silent(Exception):
    """No usable answer came."""


class SwitchedOff(Exception):
    """The phone was killed in the middle of a write."""


def id_hash(id_: str) -> int:
    return int.from_bytes(hashlib.sha256(id_.encode()).digest()[:8], "big")


class Shelf:
    """Pulled facts by id, with their digest."""

    def __init__(self):
        self.facts: dict[str, Fact] = {}
        self.xor64 = 0

    def add(self, fact: Fact) -> None:
        if fact["id"] not in self.facts:
            self.xor64 ^= id_hash(fact["id"])
        self.facts[fact["id"]] = fact

    def drop(self, subject_id: str) -> None:
        for id_ in [id_ for id_, fact in self.facts.items() if fact["subject_id"] == subject_id]:
            self.xor64 ^= id_hash(id_)
            del self.facts[id_]

    def digest(self) -> list[object]:
        return [len(self.facts), f"{self.xor64:016x}"]


@dataclass
class Disk:
    """What is durable on the phone."""

    outbox: dict[str, Fact] = field(default_factory=dict)
    authored: dict[str, Fact] = field(default_factory=dict)
    confirmed: set[str] = field(default_factory=set)
    pulled: Shelf = field(default_factory=Shelf)
    staged: Shelf | None = None
    tray: dict[str, Fact] = field(default_factory=dict)
    cursor: str | None = None
    staged_cursor: str | None = None
    epoch: str = ""
    n: int = 0
    lamport: int = 0
    failed_digest: str = ""
    seals: dict[str, str] = field(default_factory=dict)
    held: dict[str, Fact] = field(default_factory=dict)
    """Read from others before the history changed, and not seen in it since."""

    def hold(self) -> None:
        """Keep what others made until it comes down again."""
        self.held |= {
            id_: fact for id_, fact in self.pulled.facts.items() if id_ in self.seals and id_ not in self.authored
        }

    def let_go(self, subject_ids: set[str]) -> None:
        """Hold nothing of these any more."""
        for id_ in [id_ for id_, fact in self.held.items() if fact["subject_id"] in subject_ids]:
            del self.held[id_]
            self.outbox.pop(id_, None)


@dataclass(frozen=True)
class Who:
    """The person and the device."""

    team_id: str
    member_id: str
    device_id: str
    token: str
    role: str
    rider_id: str | None


class Phone:
    """One device. ``told`` holds the facts of which its owner heard that they are safe here."""

    def __init__(self, name: str, who: Who, port: int, *, seed: int, mutant: str = ""):
        self.name, self.who, self.port, self.mutant = name, who, port, mutant
        self.random = random.Random(f"{seed} {name}")  # noqa: S311 a seeded order, no secret
        self.disk = Disk()
        self.told: dict[str, Fact] = {}
        self.acknowledged: set[str] = set()
        """Since the last restore."""
        self.ever_acknowledged: set[str] = set()
        self.heard: dict[str, Fact] = {}
        """Everything that ever came down, to look for what should not have."""
        self.clock_error_ms = 0
        self.dies_with_probability = 0.0
        self.n_requests = self.n_silences = self.n_deaths = self.n_refetches = 0
        self.is_revoked = False
        self.lock = threading.Lock()

    def clone(self, name: str, seed: int) -> "Phone":
        """Copy the phone as a backup restored onto another one does."""
        twin = Phone(name, self.who, self.port, seed=seed, mutant=self.mutant)
        with self.lock:
            twin.disk = deepcopy(self.disk)
        return twin

    def _commit(self, change: Callable[[Disk], T], *, cursor: str | None = None) -> T:
        """Change the disk as a whole, unless the phone dies first; or dies right after."""
        dies = self.random.random() < self.dies_with_probability
        if dies and self.random.random() < 0.5:
            if cursor is not None and "cursor and page in two transactions" in self.mutant:
                self.disk.cursor = cursor
            self.n_deaths += 1
            raise SwitchedOff
        with self.lock:
            answer = change(self.disk)
        if dies:
            self.n_deaths += 1
            raise SwitchedOff
        return answer

    def log(self, kind: str, subject_id: str, body: dict[str, Any], ref: str | None = None) -> None:
        """Note a fact; its owner is told only when it is durable."""
        fact = {
            "id": clock.new_id(), "kind": kind, "subject_id": subject_id, "by": self.who.member_id,
            "device_id": self.who.device_id, "n": self.disk.n + 1, "lamport": self.disk.lamport + 1,
            "at_ms": clock.now_ms() + self.clock_error_ms, "body": body,
        }
        if ref is not None:
            fact["ref"] = ref

        def write(disk: Disk) -> None:
            disk.n, disk.lamport = fact["n"], fact["lamport"]
            disk.outbox[fact["id"]] = fact

        self._commit(write)
        self.told[fact["id"]] = fact

    def request(self, events: list[Fact], cursor: str | None, *, limit: int = 500) -> dict[str, Any]:
        """Write what one exchange asks."""
        seals = {fact["id"]: self.disk.seals[fact["id"]] for fact in events if fact["id"] in self.disk.seals}
        return {
            "protocol": 3, "device_id": self.who.device_id, "cursor": cursor, "events": events, "limit": limit,
            "seals": seals,
        }

    def _post(self, events: list[Fact], cursor: str | None) -> tuple[int, dict[str, Any]]:
        request = self.request(events, cursor)
        headers = {
            "Authorization": f"Bearer {self.who.token}", "Content-Type": "application/json", "Connection": "close",
        }
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=ANSWER_WITHIN_S)
        self.n_requests += 1
        try:
            connection.request("POST", "/api/exchange", json.dumps(request).encode(), headers)
            answer = connection.getresponse()
            return answer.status, json.loads(answer.read())
        except (OSError, http.client.HTTPException, ValueError) as problem:
            self.n_silences += 1
            raise Silent from problem
        finally:
            connection.close()

    def exchange(self) -> bool:
        """One request and what its answer does; true when there is more to say."""
        at = self.disk
        cursor = at.cursor if at.staged is None else at.staged_cursor
        waiting = sorted(at.outbox.values(), key=lambda fact: fact["n"])
        sent = waiting[:MOST_EVENTS]
        if len(waiting) > MOST_EVENTS and self.random.random() < 0.5:
            sent = self.random.sample(waiting, MOST_EVENTS)
        status, reply = self._post(sent, cursor)
        if status != 200:
            self._refused(status, reply)
        return self._commit(lambda disk: self._apply(disk, sent, cursor, reply), cursor=reply["cursor"])

    def _refused(self, status: int, reply: dict[str, Any]) -> None:
        if status == 401 and "outbox cleared on 401" in self.mutant:
            self._commit(lambda disk: disk.outbox.clear())
        if isinstance(reply, dict) and reply.get("code") == "revoked":
            self._hand_over()
        raise Silent

    def _hand_over(self) -> None:
        """A revoked phone hands over what it made, each time (the app once an hour), and forgets what it read."""
        made = [fact for id_, fact in (self.disk.authored | self.disk.outbox).items() if id_ not in self.disk.held]

        def forget(disk: Disk) -> None:
            disk.let_go({fact["subject_id"] for fact in disk.held.values()})
            disk.pulled, disk.staged, disk.cursor = Shelf(), None, None

        self._commit(forget)
        for place in range(0, len(made), MOST_EVENTS):
            status, _ = self._post(made[place : place + MOST_EVENTS], None)
            if status != 403:
                return
        self.is_revoked = True

    def _settle(self, disk: Disk, sent: list[Fact], reply: dict[str, Any]) -> bool:
        facts = {fact["id"]: fact for fact in sent}
        moved = False
        for verdict in reply["verdicts"]:
            fact = facts.get(verdict["id"])
            if fact is None:
                continue
            if verdict["status"] == "retry":
                # The server does not know the fact that a correction names: when it was made here, it goes along.
                named = disk.authored.get(fact.get("ref", "")) or disk.tray.get(fact.get("ref", ""))
                if named is not None:
                    disk.outbox[named["id"]] = named
                continue
            moved = True
            self._judged(disk, fact, verdict)
        return moved

    def _judged(self, disk: Disk, fact: Fact, verdict: dict[str, Any]) -> None:
        id_, status = fact["id"], verdict["status"]
        if disk.held.pop(id_, None) is not None:
            disk.outbox.pop(id_, None)
            return
        if status in {"ok", "dup"}:
            self.acknowledged.add(id_)
            self.ever_acknowledged.add(id_)
            disk.seals[id_] = verdict.get("seal", "")
            if id_ in disk.authored and status == "dup":
                disk.confirmed.add(id_)
            disk.tray.pop(id_, None)
            if "nothing authored kept" not in self.mutant:
                disk.authored[id_] = fact
        else:
            disk.authored.pop(id_, None)
        if status in {"rejected", "conflict"}:
            disk.tray[id_] = fact
        disk.outbox.pop(id_, None)

    def _apply(self, disk: Disk, sent: list[Fact], cursor: str | None, reply: dict[str, Any]) -> bool:
        moved = self._settle(disk, sent, reply)
        if (disk.cursor if disk.staged is None else disk.staged_cursor) != cursor:
            return True
        is_other = bool(disk.epoch) and disk.epoch != reply["epoch"]
        is_ordered = is_other or (reply.get("reset", False) and cursor is not None)
        if is_ordered:
            disk.hold()
            disk.pulled, disk.staged, disk.confirmed = Shelf(), None, set()
            disk.outbox |= disk.authored | disk.tray
        elif reply.get("reset", False) and disk.staged is None:
            disk.pulled = Shelf()
        self._take_page(disk, reply)
        disk.epoch = reply["epoch"]
        if reply["more"] or (disk.outbox and (moved or is_ordered)):
            return True
        return self._check(disk, reply.get("digest"))

    def _take_page(self, disk: Disk, reply: dict[str, Any]) -> None:
        shelf = disk.pulled if disk.staged is None else disk.staged
        erased = {fact["subject_id"] for _, fact in reply["events"] if fact["kind"] == "erase"}
        for subject_id in {*reply.get("drop", []), *erased}:
            disk.pulled.drop(subject_id)
            shelf.drop(subject_id)
            disk.let_go({subject_id})
        for kept in (disk.authored, disk.tray) if erased else ():
            for id_ in [id_ for id_, fact in kept.items() if fact["subject_id"] in erased]:
                del kept[id_]
        for (_, fact), seal in zip(reply["events"], reply.get("seals", []), strict=True):
            self.heard[fact["id"]] = fact
            shelf.add(fact)
            if "nothing authored kept" not in self.mutant:
                disk.seals[fact["id"]] = seal
            disk.lamport = max(disk.lamport, fact["lamport"])
        if disk.staged is None:
            disk.cursor = reply["cursor"]
        else:
            disk.staged_cursor = reply["cursor"]

    def _check(self, disk: Disk, digest: list[object] | None) -> bool:
        if digest is None:
            return False
        if disk.staged is not None:
            self.n_refetches += 1
            disk.failed_digest = "" if disk.staged.digest() == digest else json.dumps(digest)
            disk.hold()
            disk.pulled, disk.cursor, disk.staged = disk.staged, disk.staged_cursor, None
        elif disk.pulled.digest() != digest and disk.failed_digest != json.dumps(digest):
            disk.staged, disk.staged_cursor = Shelf(), None
            disk.outbox |= disk.authored | disk.tray
            return True
        disk.held = {id_: fact for id_, fact in disk.held.items() if id_ not in disk.pulled.facts}
        unseen = disk.authored.keys() - disk.pulled.facts.keys() - disk.confirmed
        disk.outbox |= {id_: disk.authored[id_] for id_ in unseen} | disk.held
        return bool(unseen or disk.held)
