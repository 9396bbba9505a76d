"""One run: bouts of faults, calm between them, and a verdict."""

import random
import time
from collections.abc import Callable
from dataclasses import dataclass

import msgspec
from brinebook.access.devices import revoke
from brinebook.storage.errors import StorageError
from support.chaos.host import Host
from support.chaos.report import Report
from support.chaos.world import World

DAY_MS = 24 * 3_600_000
BOUT_S = 20.0
MOST_CLONES = 6
SCOPES = ("car", "soigneur", "physiologist", "coach")


@dataclass(frozen=True)
class Plan:
    """What a run does; ``only`` names the faults of the server and the phones it is limited to, empty for all."""

    seconds: float
    seed: int
    backend: str = "sqlite"
    mutant: str = ""
    only: frozenset[str] = frozenset()
    bout_s: float = BOUT_S
    pace_s: tuple[float, float] = (0.4, 1.6)
    drain_limit_s: float = 90.0


class Conductor:
    """Chooses faults by its seed and brings them about."""

    def __init__(self, world: World, plan: Plan):
        self.world, self.host, self.plan = world, world.host, plan
        self.chance = random.Random(plan.seed)  # noqa: S311 a seeded order, no secret
        self.may_refetch = False
        self.ever_read: dict[str, set[str]] = {phone.who.member_id: {phone.who.role} for phone in world.phones()}
        faults: dict[str, tuple[int, Callable[[], None]]] = {
            "server killed": (6, self._kill), "server frozen": (3, self._freeze), "disk full": (3, self._fill),
            "dump taken": (2, self._dump), "old dump restored": (1, self._restore),
            "old dump restored unannounced": (1, self._restore_silently), "clock jumped days": (4, self._jump),
            "device cloned": (2, self._clone), "device revoked": (1, self._revoke), "scope changed": (3, self._rescope),
            "rider erased": (1, self._erase),
        }
        if plan.backend == "postgresql":
            faults["database stopped at once"] = (4, self._stop_database)
            faults.pop("disk full")
        self.faults = {name: fault for name, fault in faults.items() if not plan.only or name in plan.only}

    def strike(self) -> None:
        """Bring one fault about."""
        names = list(self.faults)
        name = self.chance.choices(names, [self.faults[name][0] for name in names])[0]
        before = self.world.tally.counts[name]
        self.faults[name][1]()
        if self.world.tally.counts[name] == before:
            self.world.tally.note(name)

    def _kill(self) -> None:
        self.host.kill()
        # What was acknowledged must be in the store now, before any phone can mend it by asking again.
        self.world.n_absent += self.world.absent()
        self.host.start()

    def _freeze(self) -> None:
        self.host.freeze(self.chance.uniform(0.3, 2.0))

    def _fill(self) -> None:
        self.host.fill_disk(self.chance.uniform(0.5, 1.5))

    def _stop_database(self) -> None:
        self.host.stop_database()

    def _dump(self) -> None:
        try:
            self.host.take_dump()
        except StorageError:
            self.world.tally.note("administration refused")

    def _erase(self) -> None:
        self._in_store(lambda _: self.host.erase("red", "r3"))

    def _put_back(self, *, is_announced: bool) -> None:
        if self.host.put_back(is_announced=is_announced):
            self.may_refetch = True
            for phone in self.world.phones():
                phone.acknowledged = set()
            self.host.start()
        else:
            self.world.tally.note("dump taken")
            self._dump()

    def _restore(self) -> None:
        self._put_back(is_announced=True)

    def _restore_silently(self) -> None:
        self._put_back(is_announced=False)

    def _jump(self) -> None:
        self.chance.choice(self.world.phones()).clock_error_ms = self.chance.randrange(-40, 41) * DAY_MS

    def _clone(self) -> None:
        if len(self.world.users) < len(self.ever_read) + MOST_CLONES:
            self.world.clone(self.chance)

    def _revoke(self) -> None:
        phone = next(phone for phone in self.world.phones() if (phone.who.team_id, phone.who.role) == ("blue", "car"))
        self._in_store(lambda repository: revoke(repository, "blue", phone.who.device_id))

    def _rescope(self) -> None:
        phone = next(phone for phone in self.world.phones() if phone.who.role == "soigneur")
        role = self.chance.choice(SCOPES)
        self.ever_read[phone.who.member_id].add(role)

        def change(repository) -> None:
            member = repository.member("red", phone.who.member_id)
            repository.put_member("red", msgspec.structs.replace(member, role=role))

        self._in_store(change)

    def _in_store(self, work) -> None:
        repository = self.host.repository()
        try:
            work(repository)
        except StorageError:
            self.world.tally.note("administration refused")
        finally:
            repository.close()

    def bout(self, seconds: float) -> None:
        """Be hostile for a while."""
        self.world.is_calm.clear()
        self.world.proxy.is_hostile = True
        for phone in self.world.phones():
            phone.dies_with_probability = 0.03
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            time.sleep(self.chance.uniform(*self.plan.pace_s))
            self.strike()
        self.world.is_calm.set()
        self.world.proxy.is_hostile = False
        for phone in self.world.phones():
            phone.dies_with_probability = 0.0


def run(plan: Plan) -> Report:
    """Play a plan to its end and judge what is left."""
    report = Report(seed=plan.seed, backend=plan.backend)
    host = Host(backend=plan.backend, mutant=plan.mutant)
    try:
        world = World(host, seed=plan.seed, mutant=plan.mutant)
        try:
            _play(world, plan, report)
        finally:
            world.close()
    finally:
        host.close()
    return report


def _play(world: World, plan: Plan, report: Report) -> None:
    conductor = Conductor(world, plan)
    began = time.monotonic()
    for user in world.users:
        user.start()
    while True:
        left_s = plan.seconds - (time.monotonic() - began)
        if left_s <= 0 and report.convergence_s:
            break
        conductor.bout(min(plan.bout_s, max(left_s, 1.0)))
        report.convergence_s.append(world.drained(plan.drain_limit_s))
        if report.convergence_s[-1] > plan.drain_limit_s:
            report.notes.append(f"a bout was not at rest after {plan.drain_limit_s:.0f} s")
    report.seconds = time.monotonic() - began
    report.disk_way = world.host.disk.way
    report.faults = world.tally.counts
    report.faults["phones killed in a write"] = sum(phone.n_deaths for phone in world.phones())
    world.judge(report, may_refetch=conductor.may_refetch, ever_read=conductor.ever_read)
