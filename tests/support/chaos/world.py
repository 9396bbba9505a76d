"""Two teams of phones against one ill-treated server; what each may see, and what must be true in the end."""

import json
import random
import threading
import time
from dataclasses import dataclass
from typing import Any

import httpx
from brinebook.access import invites
from brinebook.storage.repository import Repository
from support.chaos.host import Host
from support.chaos.phone import Fact, Phone, Silent, SwitchedOff, Who
from support.chaos.proxy import Proxy
from support.chaos.report import Report
from support.chaos.tally import Tally
from support.world import fill_team

RIDERS = {"red": ("r1", "r2", "r3"), "blue": ("b1", "b2")}
CAST = (
    ("red", "rider", "r1"), ("red", "rider", "r2"), ("red", "rider", "r3"),
    ("red", "car", None), ("red", "soigneur", None), ("red", "physiologist", None), ("red", "doctor", None),
    ("red", "coach", None),
    ("blue", "rider", "b1"), ("blue", "rider", "b2"), ("blue", "car", None), ("blue", "doctor", None),
)
BOTTLES = {"drank", "handed_up"}
READS = {
    "rider": set(), "car": BOTTLES, "soigneur": BOTTLES, "coach": BOTTLES, "physiologist": BOTTLES | {"weighed"},
    "doctor": BOTTLES | {"weighed", "symptom"}, "admin": BOTTLES,
}
"""What a role reads of riders other than itself, said once more and apart from the product."""
WRITES = {
    "rider": ("drank", "drank", "weighed", "symptom"), "car": ("handed_up", "drank"),
    "soigneur": ("handed_up", "weighed"),
    "physiologist": ("weighed", "drank"), "doctor": ("symptom", "weighed"), "coach": (), "admin": (),
}


PASS_LIMIT_S = 5.0


def body_of(kind: str, chance: random.Random) -> dict[str, Any]:
    if kind == "drank":
        return {"volume_l": chance.choice([0.125, 0.25, 0.5]), "how": "level"}
    if kind == "handed_up":
        return {"volume_l": 0.5, "n_bottles": 1, "drink_id": "standard"}
    if kind == "weighed":
        return {"moment": "before", "mass_kg": chance.choice([65.5, 66.0, 12.0])}
    return {"symptom": "cramp"}


@dataclass(frozen=True)
class Stored:
    """What a store holds."""

    seqs: dict[str, list[int]]
    facts: dict[str, list[Fact]]
    erased: set[str]


class User(threading.Thread):
    """A person with a phone: notes, corrects, passes on; switches a dead phone on again."""

    def __init__(self, phone: Phone, world: "World"):
        super().__init__(daemon=True)
        self.phone, self.world = phone, world
        self.is_erased = False

    def run(self) -> None:
        chance = self.phone.random
        while not self.world.is_over.is_set():
            if self.world.is_calm.is_set():
                self.world.is_over.wait(0.05)
                continue
            try:
                for _ in range(chance.randrange(4)):
                    self._note()
                self.pass_on(time.monotonic() + PASS_LIMIT_S)
            except SwitchedOff:
                continue
            self.world.is_over.wait(chance.uniform(0.02, 0.3))

    def _note(self) -> None:
        phone, chance = self.phone, self.phone.random
        kinds = WRITES[phone.who.role]
        if not kinds:
            return
        own = [fact for fact in phone.told.values() if fact["kind"] != "void"] if chance.random() < 0.1 else []
        if own:
            fact = chance.choice(own)
            phone.log("void", fact["subject_id"], {}, ref=fact["id"])
            return
        kind = chance.choice(kinds)
        phone.log(kind, phone.who.rider_id or chance.choice(RIDERS[phone.who.team_id]), body_of(kind, chance))

    def pass_on(self, until: float) -> bool:
        """One pass; true when the phone has nothing more to say or hear."""
        try:
            while time.monotonic() < until:
                began = time.monotonic()
                goes_on = self.phone.exchange()
                self.world.answer_s.append(time.monotonic() - began)
                if not goes_on:
                    return True
        except Silent:
            pass
        return False


class World:
    """The cast, the network and the server of one run."""

    def __init__(self, host: Host, *, seed: int, mutant: str = ""):
        self.host, self.seed, self.mutant = host, seed, mutant
        self.tally = Tally()
        self.is_over, self.is_calm = threading.Event(), threading.Event()
        self.answer_s: list[float] = []
        self.n_absent = 0
        self.users: list[User] = []
        repository = host.repository()
        for team_id, rider_ids in RIDERS.items():
            fill_team(repository, team_id, rider_ids)
        secrets = [self._invited(repository, *who) for who in CAST]
        repository.close()
        host.start()
        self.proxy = Proxy(host.port, self.tally, seed=seed)
        for place, ((team_id, role, rider_id), secret) in enumerate(zip(CAST, secrets, strict=True)):
            self._add(Phone(f"{team_id} {role} {place}", self._joined(team_id, role, rider_id, secret), self.proxy.port,
                            seed=seed, mutant=mutant))

    @staticmethod
    def _invited(repository: Repository, team_id: str, role: str, rider_id: str | None) -> str:
        return invites.invite(repository, team_id, invites.Wanted(name=role, role=role, rider_id=rider_id)).secret

    def _joined(self, team_id: str, role: str, rider_id: str | None, secret: str) -> Who:
        body = json.dumps({"secret": secret, "device_name": role, "device_key": secret})
        answer = httpx.post(f"http://127.0.0.1:{self.host.port}/api/join", content=body, timeout=30)
        answer.raise_for_status()
        told = answer.json()
        return Who(team_id, told["member"]["id"], told["device_id"], told["token"], role, rider_id)

    def _add(self, phone: Phone) -> None:
        user = User(phone, self)
        self.users.append(user)

    def phones(self) -> list[Phone]:
        return [user.phone for user in self.users]

    def clone(self, chance: random.Random) -> None:
        """A backup of one phone comes to life on another."""
        original = chance.choice([phone for phone in self.phones() if phone.who.role != "coach"])
        self._add(original.clone(f"{original.name} clone {len(self.users)}", self.seed))
        self.users[-1].start()

    def close(self) -> None:
        self.is_over.set()
        for user in self.users:
            if user.ident is not None:
                user.join(timeout=30)
        self.proxy.close()

    def drained(self, limit_s: float) -> float:
        """With the faults over, pass on until every phone is quiet and agrees with the store; return the seconds."""
        began = time.monotonic()
        until = began + limit_s
        erased = self.stored().erased
        for user in self.users:
            user.is_erased = user.phone.who.rider_id in erased
        while True:
            is_quiet = sum(self._quiet(user, until) for user in self.users) == len(self.users)
            took = time.monotonic() - began
            if (is_quiet and not self.undelivered()) or took > limit_s:
                return took

    @staticmethod
    def _quiet(user: User, until: float) -> bool:
        try:
            done = user.pass_on(until)
        except SwitchedOff:
            return False
        return user.phone.is_revoked or user.is_erased or (done and not user.phone.disk.outbox)

    def stored(self) -> Stored:
        """Read each team's facts from the store itself; of an erased one only its place."""
        repository = self.host.repository()
        try:
            rows = {team_id: repository.events_after(team_id, 0, 10_000_000) for team_id in RIDERS}
            erased = {subject_id for team_id in RIDERS for subject_id in repository.erased_subjects(team_id)}
        finally:
            repository.close()
        return Stored(
            seqs={team_id: [row.seq for row in of_team] for team_id, of_team in rows.items()},
            facts={
                team_id: [json.loads(row.raw) for row in of_team if row.disclosed_as != "erased"]
                for team_id, of_team in rows.items()
            },
            erased=erased,
        )

    def _roles(self) -> dict[str, str]:
        repository = self.host.repository()
        try:
            return {member.id: member.role for team_id in RIDERS for member in repository.members(team_id)}
        finally:
            repository.close()

    def undelivered(self) -> int:
        """Count the facts that a phone's scope has and the phone has not, or the other way round."""
        stored, roles = self.stored(), self._roles()
        return sum(
            len(self._scope(phone, stored, roles[phone.who.member_id]) ^ phone.disk.pulled.facts.keys())
            for phone in self.phones() if not phone.is_revoked and phone.who.rider_id not in stored.erased
        )

    @staticmethod
    def base_kind(fact: Fact, by_id: dict[str, Fact]) -> str:
        return by_id[fact["ref"]]["kind"] if fact["kind"] == "void" else fact["kind"]

    def _scope(self, phone: Phone, stored: Stored, role: str) -> set[str]:
        facts = stored.facts[phone.who.team_id]
        by_id = {fact["id"]: fact for fact in facts}
        reads = READS[role] | {"erase"}
        own = phone.who.rider_id
        return {fact["id"] for fact in facts if fact["subject_id"] == own or self.base_kind(fact, by_id) in reads}

    def _set_aside(self) -> set[str]:
        repository = self.host.repository()
        told = [id_ for phone in self.phones() for id_ in list(phone.told)]
        try:
            return {id_ for team_id in RIDERS for place in range(0, len(told), 500)
                    for id_ in repository.quarantined_ids(team_id, told[place : place + 500])}
        finally:
            repository.close()

    def absent(self) -> int:
        """Count what was acknowledged since the last restore and is neither stored nor set aside nor erased."""
        stored, aside = self.stored(), self._set_aside()
        known = {fact["id"] for facts in stored.facts.values() for fact in facts} | aside
        told = {id_: fact["subject_id"] for phone in self.phones() for id_, fact in list(phone.told.items())}
        acknowledged = {id_ for phone in self.phones() for id_ in list(phone.acknowledged)}
        return sum(told.get(id_) not in stored.erased for id_ in acknowledged - known if id_ in told)

    def judge(self, report: Report, *, may_refetch: bool, ever_read: dict[str, set[str]]) -> None:
        """Hold the store and every phone against what was told to their owners."""
        stored, aside = self.stored(), self._set_aside()
        ids = [fact["id"] for facts in stored.facts.values() for fact in facts]
        known = set(ids)
        facts = {id_: fact for phone in self.phones() for id_, fact in phone.told.items()}
        told = {id_ for id_, fact in facts.items() if fact["subject_id"] not in stored.erased}
        report.bad["lost"] = len(told - known - aside)
        report.bad["acknowledged but absent"] = self.n_absent + self.absent()
        ever = {id_ for phone in self.phones() for id_ in phone.ever_acknowledged}
        # Restores included: what the book once took is in it, or by a person's word kept out of it; never just gone.
        report.bad["acknowledged once, then gone"] = len((ever & told) - known - aside)
        report.operations["acknowledged once, then set aside"] = len((ever & told & aside) - known)
        report.operations["acknowledged once, then erased"] = len((ever & facts.keys()) - told)
        report.bad["doubled"] = len(ids) - len(known)
        report.bad["sequence gaps"] = sum(
            seqs != list(range(1, len(seqs) + 1)) for seqs in stored.seqs.values()
        )
        report.bad["never delivered"] = self.undelivered()
        report.bad["leaked"] = sum(self._leaked(phone, stored, ever_read) for phone in self.phones())
        report.bad["places lost"] = 0 if may_refetch else sum(phone.n_refetches for phone in self.phones())
        for phone in self.phones():
            if phone.disk.outbox and not phone.is_revoked and phone.who.rider_id not in stored.erased:
                report.notes.append(f"{phone.name} still holds {len(phone.disk.outbox)}")
        report.operations["facts noted"] = len(told)
        report.operations["facts stored"] = len(known)
        report.operations["facts set aside for review"] = len(aside)
        report.operations["exchanges"] = sum(phone.n_requests for phone in self.phones())
        report.operations["exchanges without a usable answer"] = sum(phone.n_silences for phone in self.phones())
        report.operations["refetches"] = sum(phone.n_refetches for phone in self.phones())
        report.operations["phones"] = len(self.users)
        report.answer_s = list(self.answer_s)

    def _leaked(self, phone: Phone, stored: Stored, ever_read: dict[str, set[str]]) -> int:
        """Count what came down to a phone that none of its roles so far may read."""
        by_id = {fact["id"]: fact for fact in stored.facts[phone.who.team_id]}
        foreign = [facts for team_id, facts in stored.facts.items() if team_id != phone.who.team_id]
        others = {fact["id"] for facts in foreign for fact in facts}
        roles = ever_read.get(phone.who.member_id, {phone.who.role})
        reads = {"erase"}.union(*(READS[role] for role in roles))
        leaked = 0
        for id_, fact in phone.heard.items():
            if id_ not in by_id:
                leaked += id_ in others
            elif fact["subject_id"] != phone.who.rider_id and self.base_kind(fact, by_id) not in reads:
                leaked += 1
        return leaked
