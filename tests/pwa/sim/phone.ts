/** A phone without a screen: the app's own outbox and pass, on simulated ports. */

import { uuid7 } from "@/core/ids.ts";
import { isDue, type Keys, withBefore, withNext } from "@/core/keys.ts";
import type { ExchangeReply, ExchangeRequest, FactEvent } from "@/protocol/records.ts";
import { bringBack, keepIn } from "@/store/facts.ts";
import { type Ports, Refused } from "@/store/ports.ts";
import { newPace, pass, type PassReport } from "@/sync/pass.ts";
import type { Chance } from "./chance.ts";
import { Killed, MemoryCopies, MemoryStore } from "./memory_store.ts";
import { hash64, type Member } from "./model_server.ts";

export type Carry = (phone: SimPhone, request: ExchangeRequest) => Promise<ExchangeReply>;
/** Asks for the next token with the present one; the answer may be lost. */
export type Renew = (phone: SimPhone) => string;
/** What stands on the disk of a device that joined: under which key the server knows it, and its tokens. */
export type Joined = Keys & { readonly key: string };

const isUnknown = (problem: unknown): boolean => problem instanceof Refused && problem.status === 401;

export class SimPhone {
  readonly store = new MemoryStore();
  readonly copies = new MemoryCopies();
  /** Facts of which the person was told that they are safe on this phone. */
  readonly told = new Map<string, FactEvent>();
  clockErrorMs = 0;
  isGone = false;
  joined: Joined | null = null;
  isKeyRefused = false;
  private ports!: Ports;
  private paces = [newPace(), newPace()];

  constructor(
    readonly name: string, readonly member: Member, private chance: Chance, private nowMs: () => number, private carry: Carry,
    private renew: Renew | null = null,
  ) {
    this.boot();
  }

  private boot(): void {
    const { chance, copies } = this;
    this.paces = [newPace(), newPace()];
    this.ports = {
      store: this.store.forThisLife(), copies, hash: async (id) => hash64(id),
      clock: { nowMs: () => this.nowMs() + this.clockErrorMs },
      random: { bytes: (n) => chance.bytes(n), fraction: () => chance.fraction() },
      net: { exchange: (request) => this.carry(this, JSON.parse(JSON.stringify(request)) as ExchangeRequest) },
    };
  }

  /** Switch it on again: a new app on the old store, which first brings back what the store lost. */
  async relaunch(): Promise<void> {
    this.boot();
    await bringBack(this.ports.store, this.copies);
  }

  async log(kind: string, subjectId: string, ref?: string): Promise<void> {
    const atMs = this.nowMs() + this.clockErrorMs;
    const made = {
      id: uuid7(this.nowMs(), this.chance.bytes(10)), kind, subject_id: subjectId, by: this.member.id, device_id: this.name,
      at_ms: atMs, body: { volume_l: 0.25 }, ...(ref === undefined ? {} : { ref }),
    };
    const event = await keepIn(this.ports.store, this.copies, made);
    this.told.set(event.id, event);
  }

  /** One pass by one of two tabs. A phone killed during it is switched on again. */
  async pass(tab: 0 | 1 = 0): Promise<PassReport | null> {
    const shown = this.joined;
    let report = await this.once(tab);
    if (isUnknown(report.problem)) {
      const isChangedMeanwhile = this.joined !== shown;
      const before = this.joined === null ? null : withBefore(this.joined);
      if (isChangedMeanwhile || before !== null) {
        if (!isChangedMeanwhile) this.joined = before;
        report = await this.once(tab);
      }
    }
    if (report.problem instanceof Killed) {
      await this.relaunch();
      return null;
    }
    this.isKeyRefused = isUnknown(report.problem);
    if (report.problem === null) this.changeToken();
    return report;
  }

  private once(tab: 0 | 1): Promise<PassReport> {
    return pass(this.ports, this.paces[tab] as ReturnType<typeof newPace>, this.name).catch((problem: unknown) => ({ isChanged: true, problem }) as PassReport);
  }

  /** As the app does after each pass, and oftener than each week. */
  private changeToken(): void {
    const { joined, renew } = this;
    const nowMs = this.nowMs() + this.clockErrorMs;
    if (joined === null || renew === null || !(isDue(joined, nowMs) || this.chance.is(0.1))) return;
    try {
      const token = renew(this);
      if (this.joined === joined) this.joined = withNext(joined, token, nowMs);
    } catch (problem) {
      if (!(problem instanceof TypeError) && !(problem instanceof Refused)) throw problem;
    }
  }

  async safely(work: () => Promise<void>): Promise<void> {
    try {
      await work();
    } catch (problem) {
      // A full phone tells the person that the fact was not noted.
      if (problem instanceof Error && problem.name === "QuotaExceededError") return;
      if (!(problem instanceof Killed)) throw problem;
      await this.relaunch();
    }
  }
}
