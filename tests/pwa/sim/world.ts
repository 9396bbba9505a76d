/** A seeded world of two teams, a hostile network and people who do not wait: the same seed plays the same way. */

import type { ExchangeReply, ExchangeRequest } from "@/protocol/records.ts";
import { Refused } from "@/store/ports.ts";
import { Chance } from "./chance.ts";
import { Killed } from "./memory_store.ts";
import { ModelServer, type Member } from "./model_server.ts";
import { type Joined, SimPhone } from "./phone.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const SUBJECTS: Readonly<Record<string, readonly string[]>> = { red: ["r1", "r2"], blue: ["b1"] };
const MEMBERS: readonly Member[] = [
  { id: "rider-1", teamId: "red", riderId: "r1" }, { id: "car", teamId: "red", riderId: null },
  { id: "rider-2", teamId: "red", riderId: "r2" }, { id: "blue-rider", teamId: "blue", riderId: "b1" },
];

export interface Outcome {
  steps: number;
  made: number;
  faults: Record<string, number>;
  lost: string[];
  doubled: number;
  leaked: number;
  diverged: string[];
  undrained: string[];
  /** Phones that no token of theirs let in any more, though their server forgot nothing and nobody had copied them. */
  lockedOut: string[];
  beyondHelp: number;
  /** Refetches although no history was put back or trimmed: the phone had lost its place by itself. */
  needlessRefetches: number;
  trace: string;
}

/** Faults planted in phone or server, each of which the checks must notice. */
export type Mutant =
  | "none" | "no unique key" | "missing scope filter" | "cursor and page in two transactions" | "outbox cleared on 401"
  | "no copies" | "nothing authored kept" | "token ends when the next is given";

export class World {
  private chance: Chance;
  private server = new ModelServer();
  private phones: SimPhone[];
  private faults: Record<string, number> = {};
  private late: [Member, ExchangeRequest][] = [];
  private trace: string[] = [];
  private isHostile = true;
  private depth = 0;
  private mayRefetch = false;
  private nSteps = 0;
  private nKeys = 0;
  /** Passed on, then lost by the server's restore and by the phone's evicted store: no copy is left anywhere. */
  private beyondHelp = new Set<string>();
  /** Phones that may find facts of their own device which they never made: copied ones, and those that lost their counter. */
  private mayFindOthers = new Set<string>();
  /** Keys that a server put back to an older state, or a copied phone, may have ended. */
  private mayEnd = new Set<string>();
  private lockedOut: string[] = [];

  constructor(readonly seed: number, private mutant: Mutant = "none") {
    this.chance = new Chance(seed);
    this.phones = MEMBERS.map((member) => this.newPhone(member.id, { ...member }));
    this.server.hasNoUniqueKey = mutant === "no unique key";
    this.server.hasNoScope = mutant === "missing scope filter";
    this.server.hasNoSeals = mutant === "nothing authored kept";
    this.server.endsTokensAtOnce = mutant === "token ends when the next is given";
    for (const phone of this.phones) this.join(phone);
  }

  private join(phone: SimPhone): void {
    const key = `key-${(this.nKeys += 1)}`;
    phone.joined = { key, token: this.server.join(phone.member.teamId, key), tokenAtMs: this.server.nowMs };
  }

  /** The next token, or an answer that was lost after the server had made one. */
  private renew(phone: SimPhone): string {
    const { key, token } = phone.joined ?? { key: "", token: "" };
    const next = this.server.nextToken(phone.member.teamId, key, token);
    this.note("token changed");
    if (this.isHostile && this.chance.is(0.3)) this.lose("next token lost");
    return next;
  }

  private newPhone(name: string, member: Member): SimPhone {
    const phone = new SimPhone(name, member, this.chance, () => this.server.nowMs, (from, request) => this.carry(from, request), (from) => this.renew(from));
    phone.store.splitsCursor = this.mutant === "cursor and page in two transactions";
    phone.copies.isOff = this.mutant === "no copies";
    return phone;
  }

  private note(fault: string): void {
    this.faults[fault] = (this.faults[fault] ?? 0) + 1;
  }

  /** The network: requests and replies may be lost, doubled, late; life goes on while one is on its way. */
  private async carry(phone: SimPhone, request: ExchangeRequest): Promise<ExchangeReply> {
    const { chance } = this;
    const shown = phone.joined;
    this.server.nowMs += 20 + chance.below(400);
    const fate = this.isHostile ? chance.fraction() : 1;
    if (fate < 0.08) return this.lose("request lost");
    if (fate < 0.12) {
      this.late.push([phone.member, request]);
      return this.lose("request late");
    }
    if (fate < 0.16) {
      this.note("request doubled");
      await this.answer(phone, request, shown);
    }
    if (fate > 0.7 && fate < 0.9) await this.meanwhile();
    const reply = await this.answer(phone, request, shown);
    if (fate > 0.9 && fate < 0.97) await this.meanwhile();
    return fate < 0.26 ? this.lose("reply lost") : reply;
  }

  private async answer(phone: SimPhone, request: ExchangeRequest, shown: Joined | null): Promise<ExchangeReply> {
    try {
      if (!this.server.isDown) this.server.admit(phone.member.teamId, shown?.key ?? "", shown?.token ?? "");
      return JSON.parse(JSON.stringify(this.server.exchange(phone.member, request, 3 + this.chance.below(9)))) as ExchangeReply;
    } catch (problem) {
      if (this.mutant === "outbox cleared on 401" && problem instanceof Refused && problem.status === 401) {
        await phone.store.write(["outbox"], (tx) => tx.clear("outbox"));
        phone.copies.remove(phone.copies.all().map(({ id }) => id));
      }
      throw problem;
    }
  }

  private lose(fault: string): never {
    this.note(fault);
    throw new TypeError(fault);
  }

  private async meanwhile(): Promise<void> {
    if (this.depth >= 2) return;
    this.depth += 1;
    await this.step();
    this.depth -= 1;
  }

  private living(): SimPhone[] {
    return this.phones.filter(({ isGone }) => !isGone);
  }

  private async tap(phone: SimPhone): Promise<void> {
    const subjects = phone.member.riderId === null ? (SUBJECTS[phone.member.teamId] ?? []) : [phone.member.riderId];
    const known = [...phone.told.keys()];
    const kind = this.chance.is(0.03) ? "impossible" : this.chance.is(0.2) && known.length > 0 ? "void" : "drank";
    const ref = kind === "void" ? this.chance.pick(known) : undefined;
    const subject = ref === undefined ? this.chance.pick(subjects) : (phone.told.get(ref)?.subject_id ?? "");
    await phone.safely(() => phone.log(kind, subject, ref));
  }

  private async kill(phone: SimPhone): Promise<void> {
    this.note("phone killed");
    phone.store.doom = this.chance.pick(["before", "after"] as const);
    await phone.safely(() => phone.log("drank", phone.member.riderId ?? "r1"));
    phone.store.kill();
    await phone.relaunch();
  }

  private async doom(phone: SimPhone): Promise<void> {
    this.note("phone killed mid-write");
    phone.store.doom = this.chance.pick(["before", "after"] as const);
    await phone.pass();
    phone.store.doom = null;
  }

  private async evict(phone: SimPhone): Promise<void> {
    if (phone.store.peek("outbox").length >= 200) return;
    this.note("store evicted");
    this.mayFindOthers.add(phone.name);
    const unsent = phone.store.peek("outbox").map(({ id }) => id);
    phone.store.evict();
    await phone.relaunch();
    this.noteBeyondHelp(unsent);
  }

  private noteBeyondHelp(mustBeHeld: readonly string[] = []): void {
    const held = new Set(mustBeHeld);
    const kept = this.phones.flatMap(({ store }) => (["outbox", "authored", "tray"] as const).flatMap((name) => store.peek(name).map(({ id }) => id)));
    for (const id of kept) held.add(id);
    for (const teamId of ["red", "blue"]) for (const { id } of this.server.team(teamId).events) held.add(id);
    for (const { told } of this.phones) for (const id of told.keys()) if (!held.has(id)) this.beyondHelp.add(id);
  }

  private fill(phone: SimPhone): void {
    this.note("storage full");
    phone.store.isFull = !phone.store.isFull;
    this.mayRefetch = true;
  }

  private restore(): void {
    const isAnnounced = this.chance.is(0.5);
    const teamId = this.chance.pick(["red", "blue"]);
    if (!this.server.restore(teamId, isAnnounced)) return;
    this.note(isAnnounced ? "dump restored" : "dump restored unannounced");
    this.mayRefetch = true;
    for (const { member, joined } of this.phones) if (member.teamId === teamId && joined !== null) this.mayEnd.add(joined.key);
    this.noteBeyondHelp();
    if (this.mutant === "nothing authored kept") for (const phone of this.phones) void phone.store.write(["authored"], (tx) => tx.clear("authored"));
  }

  private clone(phone: SimPhone): void {
    if (this.phones.length > 8) return;
    this.note("device cloned");
    this.mayFindOthers.add(phone.name);
    const twin = this.newPhone(phone.name, phone.member);
    twin.store.cloneFrom(phone.store);
    twin.joined = phone.joined;
    if (phone.joined !== null) this.mayEnd.add(phone.joined.key);
    this.phones.push(twin);
  }

  private changeScope(): void {
    const car = MEMBERS.findIndex(({ id }) => id === "car");
    this.note("scope changed");
    const riderId = this.chance.pick([null, "r1", "r2"]);
    for (const phone of this.phones) if (phone.member.id === MEMBERS[car]?.id) phone.member.riderId = riderId;
  }

  private async rare(phone: SimPhone): Promise<void> {
    const acts: (() => void | Promise<void>)[] = [
      () => this.kill(phone), () => this.doom(phone), () => this.doom(phone), () => this.evict(phone), () => this.fill(phone),
      () => this.restore(), () => this.clone(phone), () => this.changeScope(),
      () => { this.note("clock jumped"); phone.clockErrorMs = (this.chance.below(81) - 40) * DAY_MS; },
      () => { this.note("server down"); this.server.isDown = !this.server.isDown; },
      () => { this.note("key refused"); this.server.unknownKeys.add(phone.member.id); },
      () => { this.note("dump taken"); this.server.dump(this.chance.pick(["red", "blue"])); },
      () => { this.server.edit(phone.member.teamId); },
    ];
    await this.chance.pick(acts)();
  }

  private async step(): Promise<void> {
    const phone = this.chance.pick(this.living());
    this.nSteps += 1;
    this.server.nowMs += this.chance.below(60_000);
    const what = this.chance.fraction();
    this.trace.push(`${phone.name} ${what.toFixed(3)}`);
    if (what < 0.4) await this.tap(phone);
    else if (what < 0.75) await phone.pass(this.chance.is(0.3) ? 1 : 0);
    else if (what < 0.8) await Promise.all([phone.pass(0), phone.pass(1)]);
    else if (what < 0.85) this.deliverLate();
    else if (what < 0.87) this.server.unknownKeys.clear();
    else await this.rare(phone);
  }

  private deliverLate(): void {
    const [first] = this.late.splice(this.chance.below(this.late.length + 1), 1);
    if (first === undefined) return;
    this.note("request reordered");
    try {
      this.server.exchange(first[0], first[1], 5);
    } catch (problem) {
      if (!(problem instanceof Refused)) throw problem;
    }
  }

  private async drain(): Promise<void> {
    this.isHostile = false;
    this.server.isDown = false;
    this.server.unknownKeys.clear();
    for (const phone of this.phones) phone.store.isFull = false;
    for (let round = 0; round < 4; round += 1) {
      for (const phone of this.living()) {
        await phone.pass();
        await this.letInAgain(phone);
      }
    }
  }

  /** Whom no token lets in joins again, entries and all; without a reason for it that is a fault. */
  private async letInAgain(phone: SimPhone): Promise<void> {
    if (!phone.isKeyRefused) return;
    this.note("joined again");
    if (!this.mayEnd.has(phone.joined?.key ?? "")) this.lockedOut.push(phone.name);
    this.join(phone);
    await phone.pass();
  }

  async run(nSteps: number): Promise<Outcome> {
    while (this.nSteps < nSteps) await this.step();
    const isErasing = this.chance.is(0.3);
    if (isErasing) this.server.erase("red", "r2");
    const isRevoking = this.chance.is(0.3);
    if (isRevoking) this.server.revoked.add("rider-2");
    await this.drain();
    return this.judge();
  }

  private safeSomewhere(phone: SimPhone, id: string, stored: ReadonlySet<string>): boolean {
    const event = phone.told.get(id);
    return stored.has(id) || this.beyondHelp.has(id) || this.server.quarantine.has(id) || this.server.erased.has(event?.subject_id ?? "")
      || phone.store.peek("tray").some((item) => item.id === id) || phone.store.peek("outbox").some((held) => held.id === id);
  }

  private judge(): Outcome {
    const stored = new Set<string>();
    let [doubled, leaked] = [0, 0];
    for (const teamId of ["red", "blue"]) {
      const ids = this.server.team(teamId).events.map(({ id }) => id);
      doubled += ids.length - new Set(ids).size;
      for (const id of ids) stored.add(id);
    }
    const lost = this.phones.flatMap((phone) => [...phone.told.keys()].filter((id) => !this.safeSomewhere(phone, id, stored)));
    const diverged: string[] = [];
    const undrained: string[] = [];
    let refetches = 0;
    for (const phone of this.phones) {
      const { member } = phone;
      refetches += Number(phone.store.recalled("n_refetches") ?? 0);
      if (phone.store.recalled("copied_device") !== undefined && !this.mayFindOthers.has(phone.name)) diverged.push(`${phone.name} took itself for two`);
      if (this.server.revoked.has(member.id)) continue;
      const isMine = (subject: string): boolean => (SUBJECTS[member.teamId] ?? []).includes(subject)
        && (member.riderId === null || member.riderId === subject);
      const scope = this.server.team(member.teamId).events.filter((event) => event.kind !== "gone" && isMine(event.subject_id)).map(({ id }) => id).sort();
      const pulled = phone.store.peek("ev").filter(({ hash }) => hash !== undefined);
      leaked += pulled.filter(({ event }) => !isMine(event.subject_id)).length;
      if (pulled.map(({ id }) => id).sort().join() !== scope.join()) diverged.push(phone.name);
      // A correction of what no copy is left of waits for ever, and so does a correction of that correction.
      const isHopeless = (ref?: string | null): boolean => Boolean(ref) && (this.beyondHelp.has(ref ?? "") || isHopeless(phone.told.get(ref ?? "")?.ref));
      if (phone.store.peek("outbox").some(({ ref }) => !isHopeless(ref))) undrained.push(phone.name);
    }
    return {
      steps: this.nSteps, made: new Set(this.phones.flatMap(({ told }) => [...told.keys()])).size, faults: this.faults, lost, doubled, leaked,
      diverged, undrained, lockedOut: this.lockedOut, beyondHelp: this.beyondHelp.size, needlessRefetches: this.mayRefetch ? 0 : refetches, trace: this.trace.join("\n"),
    };
  }
}

/** What is wrong in an outcome; empty when nothing is. */
export function faultsOf(outcome: Outcome): string[] {
  const { lost, doubled, leaked, diverged, undrained, lockedOut, needlessRefetches } = outcome;
  const counts = { lost: lost.length, doubled, leaked, diverged: diverged.length, undrained: undrained.length, lockedOut: lockedOut.length, needlessRefetches };
  return Object.entries(counts).filter(([, n]) => n > 0).map(([name, n]) => `${name} ${n}`);
}
