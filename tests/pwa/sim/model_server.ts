/** What a server promises a phone, in memory: verdicts, a gap-free sequence, scope, epoch, digest, erasure. */

import { createHash } from "node:crypto";

import type { ExchangeReply, ExchangeRequest, FactEvent, Verdict } from "@/protocol/records.ts";
import { Refused } from "@/store/ports.ts";

export interface Member {
  id: string;
  teamId: string;
  /** Null: sees every rider of the team. */
  riderId: string | null;
}

interface Place { epoch: string; scope: string; seq: number; documentSeq: number }
/** A device's token as `access/devices.py` has it: the good one ends when the next is first used. */
interface Door { good: string; next: string | null }
interface History {
  epoch: string;
  events: FactEvent[];
  documentSeq: number;
  doors: Record<string, Door>;
}

export const hash64 = (id: string): string => createHash("sha256").update(id).digest("hex").slice(0, 16);
const sealOf = (event: FactEvent): string => createHash("sha256").update(`seal ${JSON.stringify(event)}`).digest("hex").slice(0, 16);
const cloned = <T>(value: T): T => JSON.parse(JSON.stringify(value)) as T;

export class ModelServer {
  private teams = new Map<string, History>();
  private nEpochs = 0;
  private old = new Map<string, History>();
  quarantine = new Map<string, FactEvent>();
  erased = new Set<string>();
  revoked = new Set<string>();
  unknownKeys = new Set<string>();
  nowMs = 1_750_000_000_000;
  isDown = false;
  /** Faults planted on purpose. */
  hasNoUniqueKey = false;
  hasNoScope = false;
  hasNoSeals = false;
  endsTokensAtOnce = false;
  private nTokens = 0;

  team(id: string): History {
    const found = this.teams.get(id) ?? { epoch: `e${(this.nEpochs += 1)}`, events: [], documentSeq: 1, doors: {} };
    this.teams.set(id, found);
    return found;
  }

  /** Let a device in by an invitation: a token of its own. */
  join(teamId: string, key: string): string {
    const good = `t${(this.nTokens += 1)}`;
    this.team(teamId).doors[key] = { good, next: null };
    return good;
  }

  /** Let pass who shows the good token, or the next one, which then is the good one. */
  admit(teamId: string, key: string, token: string): Door {
    const door = this.team(teamId).doors[key];
    if (door !== undefined && door.next === token) [door.good, door.next] = [token, null];
    if (door === undefined || door.good !== token) throw new Refused(401, "not_signed_in", null);
    return door;
  }

  nextToken(teamId: string, key: string, token: string): string {
    if (this.isDown) throw new Refused(503, "down", 1);
    const door = this.admit(teamId, key, token);
    door.next = `t${(this.nTokens += 1)}`;
    if (this.endsTokensAtOnce) door.good = door.next;
    return door.next;
  }

  mayRead(member: Member, event: FactEvent): boolean {
    if (event.kind === "gone") return false;
    return this.hasNoScope || member.riderId === null || member.riderId === event.subject_id;
  }

  scopeOf(member: Member): FactEvent[] {
    return this.team(member.teamId).events.filter((event) => this.mayRead(member, event));
  }

  edit(teamId: string): void {
    this.team(teamId).documentSeq += 1;
  }

  dump(teamId: string): void {
    this.old.set(teamId, cloned(this.team(teamId)));
  }

  /** Put an old dump in place; announced, it begins a new epoch. */
  restore(teamId: string, isAnnounced: boolean): boolean {
    const old = this.old.get(teamId);
    if (old === undefined) return false;
    const epoch = isAnnounced ? `e${(this.nEpochs += 1)}` : this.team(teamId).epoch;
    this.teams.set(teamId, { ...cloned(old), epoch });
    // The ledger of erased subjects is replayed before serving.
    for (const subject of this.erased) this.forget(teamId, subject);
    return true;
  }

  private forget(teamId: string, subject: string): void {
    const team = this.team(teamId);
    for (const [i, event] of team.events.entries()) {
      if (event.subject_id === subject && event.kind !== "erase") team.events[i] = { ...event, kind: "gone", body: {} };
    }
  }

  erase(teamId: string, subject: string): void {
    this.erased.add(subject);
    this.forget(teamId, subject);
    const n = this.team(teamId).events.length + 1;
    this.team(teamId).events.push({
      id: `erase-${subject}`, kind: "erase", subject_id: subject, by: "server", device_id: "server", n, lamport: 0, at_ms: this.nowMs, body: {},
    });
  }

  private judge(member: Member, event: FactEvent, seal: string | undefined): Verdict {
    const { events } = this.team(member.teamId);
    const known = events.find(({ id }) => id === event.id);
    if (this.erased.has(event.subject_id)) return { id: event.id, status: "erased" };
    if (known !== undefined && !this.hasNoUniqueKey) {
      const isSame = JSON.stringify(known) === JSON.stringify(event);
      return isSame ? { id: event.id, status: "dup", seq: events.indexOf(known) + 1, seal: sealOf(event) } : this.refuse(event, "conflict", "other_content");
    }
    if (seal !== sealOf(event) && event.by !== member.id) return this.refuse(event, "rejected", "not_yours");
    if (event.ref && this.quarantine.has(event.ref)) return this.refuse(event, "rejected", "ref_rejected");
    if (event.kind === "impossible") return this.refuse(event, "rejected", "bad_body");
    if (event.ref && !events.some(({ id }) => id === event.ref)) return { id: event.id, status: "retry", code: "unknown_ref" };
    events.push(cloned(event));
    return { id: event.id, status: "ok", seq: events.length, seal: sealOf(event) };
  }

  private refuse(event: FactEvent, status: "rejected" | "conflict", code: string): Verdict {
    this.quarantine.set(event.id, cloned(event));
    return { id: event.id, status, code };
  }

  private place(member: Member, cursor: string | null | undefined): [Place, boolean] {
    const team = this.team(member.teamId);
    const scope = `${member.teamId} ${member.riderId ?? "*"}`;
    const fresh = { epoch: team.epoch, scope, seq: 0, documentSeq: 0 };
    if (!cursor) return [fresh, true];
    const at = JSON.parse(cursor) as Place;
    const isUsable = at.epoch === fresh.epoch && at.scope === scope && at.seq <= team.events.length && at.documentSeq <= team.documentSeq;
    return isUsable ? [at, false] : [fresh, true];
  }

  exchange(member: Member, request: ExchangeRequest, limit: number): ExchangeReply {
    if (this.isDown) throw new Refused(503, "down", 1);
    if (this.unknownKeys.has(member.id)) throw new Refused(401, "not_signed_in", null);
    if (this.revoked.has(member.id)) {
      for (const event of request.events) this.quarantine.set(event.id, cloned(event));
      throw new Refused(403, "revoked", null, this.team(member.teamId).epoch);
    }
    if (request.events.length > 25) throw new Refused(413, "too_many_events", null);
    const verdicts = request.events.map((event) => this.judge(member, event, request.seals?.[event.id]));
    const team = this.team(member.teamId);
    const [at, reset] = this.place(member, request.cursor);
    const rows = team.events.slice(at.seq, at.seq + limit);
    const seq = at.seq + rows.length;
    const more = seq < team.events.length;
    const events = rows.flatMap((event, i) => (this.mayRead(member, event) ? [[at.seq + i + 1, cloned(event)] as [number, FactEvent]] : []));
    const body = { id: member.teamId, n: team.documentSeq };
    const documents = at.documentSeq < team.documentSeq
      ? [{ id: `team:${member.teamId}`, type: "team", subject_id: member.teamId, sha: String(team.documentSeq), body }] : [];
    return {
      protocol: 3, epoch: team.epoch, now_ms: this.nowMs, head: team.events.length, verdicts, events, documents, more, reset,
      seals: this.hasNoSeals ? [] : events.map(([, event]) => sealOf(event)),
      cursor: JSON.stringify({ ...at, seq, documentSeq: team.documentSeq }), digest: more ? null : this.digest(member),
    };
  }

  private digest(member: Member): [number, string] {
    const ids = this.scopeOf(member).map(({ id }) => id);
    const xor = ids.reduce((sum, id) => sum ^ BigInt(`0x${hash64(id)}`), 0n);
    return [ids.length, xor.toString(16).padStart(16, "0")];
  }
}
