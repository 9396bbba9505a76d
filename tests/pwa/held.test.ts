import { describe, expect, it } from "vitest";

import type { ExchangeRequest } from "@/protocol/records.ts";
import { Chance } from "./sim/chance.ts";
import { ModelServer, type Member } from "./sim/model_server.ts";
import { SimPhone } from "./sim/phone.ts";

/** The 150 of an early run, taken apart: facts that the server acknowledged, and that are gone from it after a restore. */

const RIDER: Member = { id: "rider-1", teamId: "red", riderId: "r1" };
const DOCTOR: Member = { id: "doctor", teamId: "red", riderId: null };
const COACH: Member = { id: "coach", teamId: "red", riderId: null };

function play(): { server: ModelServer; phone: (member: Member) => SimPhone; sent: ExchangeRequest[] } {
  const server = new ModelServer();
  const chance = new Chance(1);
  const sent: ExchangeRequest[] = [];
  const phone = (member: Member): SimPhone => new SimPhone(member.id, member, chance, () => server.nowMs, async (from, request) => {
    sent.push(request);
    return JSON.parse(JSON.stringify(server.exchange(from.member, request, 7)));
  });
  return { server, phone, sent };
}

const idsOf = (server: ModelServer): string[] => server.team("red").events.map(({ id }) => id).sort();

describe.each([true, false])("a fact acknowledged after the dump that is restored, announced: %s", (isAnnounced) => {
  async function acknowledged(): Promise<ReturnType<typeof play> & { rider: SimPhone; doctor: SimPhone; told: string[] }> {
    const world = play();
    const [rider, doctor] = [world.phone(RIDER), world.phone(DOCTOR)];
    await rider.log("drank", "r1");
    await rider.pass();
    world.server.dump("red");
    for (let i = 0; i < 30; i += 1) await rider.log("drank", "r1");
    await rider.pass();
    expect(rider.store.peek("outbox")).toEqual([]);
    return { ...world, rider, doctor, told: [...rider.told.keys()].sort() };
  }

  /** An unannounced restore shows only in the history, which has to have grown apart. */
  async function restored(world: Awaited<ReturnType<typeof acknowledged>>): Promise<void> {
    world.server.restore("red", isAnnounced);
  }

  it("comes back from the phone that made it", async () => {
    const world = await acknowledged();
    await restored(world);
    await world.rider.pass();
    expect(idsOf(world.server)).toEqual(world.told);
  });

  it("comes back from a phone that only read it, when the one that made it is gone", async () => {
    const world = await acknowledged();
    await world.doctor.pass();
    await restored(world);
    await world.doctor.pass();
    expect(idsOf(world.server)).toEqual(world.told);
    expect(world.doctor.store.peek("outbox")).toEqual([]);
    expect(world.doctor.store.peek("authored")).toEqual([]);
    expect(world.doctor.store.peek("tray")).toEqual([]);
  });

  it("comes back from a reader though the author's phone was cleared and forgot it", async () => {
    const world = await acknowledged();
    await world.doctor.pass();
    world.rider.store.evict();
    await world.rider.relaunch();
    await restored(world);
    await world.rider.pass();
    expect(idsOf(world.server)).toHaveLength(1);
    await world.doctor.pass();
    expect(idsOf(world.server)).toEqual(world.told);
  });

  it("cannot come back when nobody but a cleared phone had it, and nothing pretends it did", async () => {
    const world = await acknowledged();
    world.rider.store.evict();
    await world.rider.relaunch();
    await restored(world);
    await world.rider.pass();
    await world.doctor.pass();
    expect(idsOf(world.server)).toHaveLength(1);
    expect(world.rider.store.peek("ev")).toHaveLength(1);
  });

  it("comes back without its author's leave, because the server had sealed it", async () => {
    const world = await acknowledged();
    await restored(world);
    world.rider.member.id = "somebody-new";
    await world.rider.pass();
    expect(idsOf(world.server)).toEqual(world.told);
    expect(world.rider.store.peek("tray")).toEqual([]);
  });

  it("stays forgotten when its subject was erased, whoever holds it", async () => {
    const world = await acknowledged();
    await world.doctor.pass();
    world.server.erased.add("r1");
    await restored(world);
    await world.doctor.pass();
    await world.rider.pass();
    expect(world.server.team("red").events.filter(({ kind }) => kind === "drank")).toEqual([]);
    const held = [world.doctor, world.rider].flatMap(({ store }) => [...store.peek("authored"), ...store.peek("outbox")]);
    expect(held).toEqual([]);
  });
});

describe("a revoked phone", () => {
  it("hands over again what it made, once in each history, also after a dump older than the first time", async () => {
    const { server, phone, sent } = play();
    const rider = phone(RIDER);
    server.dump("red");
    await rider.log("drank", "r1");
    await rider.pass();
    server.revoked.add(RIDER.id);
    await rider.pass();
    expect(server.quarantine.size).toBe(1);
    server.restore("red", true);
    server.quarantine.clear();
    await rider.pass();
    expect([...server.quarantine.keys()]).toEqual([...rider.told.keys()]);
    sent.length = 0;
    await rider.pass();
    expect(sent.flatMap(({ events }) => events)).toEqual([]);
  });

  it("forgets what it held of others", async () => {
    const { server, phone } = play();
    const [rider, doctor] = [phone(RIDER), phone(DOCTOR)];
    await rider.log("drank", "r1");
    await rider.pass();
    await doctor.pass();
    server.revoked.add(DOCTOR.id);
    await doctor.pass();
    expect([...doctor.store.peek("ev"), ...doctor.store.peek("authored")]).toEqual([]);
  });
});

describe("what is held", () => {
  it("is asked about once and let go when the server has it, though this person may no longer see it", async () => {
    const { server, phone } = play();
    const [rider, coach] = [phone(RIDER), phone({ ...COACH })];
    await rider.log("drank", "r1");
    await rider.pass();
    await coach.pass();
    coach.member.riderId = "r2";
    await coach.pass();
    expect([...coach.store.peek("ev"), ...coach.store.peek("authored"), ...coach.store.peek("outbox")]).toEqual([]);
    expect(server.quarantine.size).toBe(0);
  });

  it("is not taken without the seal", async () => {
    const { server, phone } = play();
    const coach = phone(COACH);
    await coach.log("drank", "r1");
    const [event] = coach.store.peek("outbox");
    const forged = { ...event, by: "rider-1" } as never;
    const reply = server.exchange(COACH, { protocol: 3, device_id: "x", events: [forged], seals: { [event?.id ?? ""]: "0".repeat(16) } }, 5);
    expect(reply.verdicts.map(({ status, code }) => [status, code])).toEqual([["rejected", "not_yours"]]);
  });
});

describe("a phone and its copy", () => {
  it("both keep what they made, and both see that they are two", async () => {
    const { server, phone } = play();
    const [one, other] = [phone(RIDER), phone(RIDER)];
    await one.log("drank", "r1");
    await one.pass();
    other.store.cloneFrom(one.store);
    for (const each of [one, other]) await each.log("drank", "r1");
    for (const each of [one, other, one]) await each.pass();

    expect(idsOf(server)).toEqual([...one.told.keys(), ...other.told.keys()].sort());
    expect([one, other].map(({ store }) => store.recalled("copied_device"))).toEqual([RIDER.id, RIDER.id]);
  });

  it("the copy that is behind sees it by a number it has not reached", async () => {
    const { phone } = play();
    const [one, other] = [phone(RIDER), phone(RIDER)];
    await one.log("drank", "r1");
    await one.pass();
    other.store.cloneFrom(one.store);
    await one.log("drank", "r1");
    await one.pass();
    await other.pass();
    expect(one.store.recalled("copied_device")).toBeUndefined();
    expect(other.store.recalled("copied_device")).toBe(RIDER.id);
  });

  it("a phone alone is not taken for two: not after a refetch, a restore, or after it let go of what it made", async () => {
    const { server, phone } = play();
    const rider = phone(RIDER);
    await rider.log("drank", "r1");
    await rider.pass();
    server.dump("red");
    await rider.log("drank", "r1");
    await rider.pass();
    await rider.store.write(["authored"], (tx) => tx.clear("authored"));
    server.restore("red", true);
    await rider.pass();
    expect(idsOf(server)).toHaveLength(2);
    expect(rider.store.recalled("copied_device")).toBeUndefined();
  });
});
