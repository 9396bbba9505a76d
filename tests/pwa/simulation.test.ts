import { describe, expect, it } from "vitest";

import { faultsOf, World, type Mutant } from "./sim/world.ts";

const N_SEEDS = Number(process.env["BRINEBOOK_SEEDS"] ?? 200);
const FIRST_SEED = Number(process.env["BRINEBOOK_FIRST_SEED"] ?? 1);
const N_STEPS = 120;

describe("phones in a hostile world", () => {
  it(`lose nothing, double nothing and agree in the end, over ${N_SEEDS} seeds`, async () => {
    const failures: string[] = [];
    const faults: Record<string, number> = {};
    let [steps, made] = [0, 0];
    for (let seed = FIRST_SEED; seed < FIRST_SEED + N_SEEDS; seed += 1) {
      const outcome = await new World(seed).run(N_STEPS);
      const wrong = faultsOf(outcome);
      if (wrong.length > 0) failures.push(`seed ${seed}: ${wrong.join(", ")}`);
      steps += outcome.steps;
      made += outcome.made;
      for (const [name, n] of Object.entries(outcome.faults)) faults[name] = (faults[name] ?? 0) + n;
    }
    console.log(`${N_SEEDS} seeds, ${steps} steps, ${made} facts; ${Object.entries(faults).map(([name, n]) => `${name} ${n}`).join(", ")}`);
    expect(failures).toEqual([]);
  }, 600_000);

  it("play the same way for the same seed", async () => {
    const [one, again, other] = [await new World(7).run(N_STEPS), await new World(7).run(N_STEPS), await new World(8).run(N_STEPS)];
    expect(again).toEqual(one);
    expect(other.trace).not.toBe(one.trace);
  }, 60_000);
});

describe("the simulation notices", () => {
  const mutants: [Mutant, RegExp][] = [
    ["no unique key", /doubled/], ["missing scope filter", /leaked/], ["cursor and page in two transactions", /needlessRefetches|diverged/],
    ["outbox cleared on 401", /lost/], ["no copies", /lost/], ["nothing authored kept", /lost/],
    ["token ends when the next is given", /lockedOut/],
  ];

  it.each(mutants)("the mutant: %s", async (mutant, expected) => {
    const seen: string[] = [];
    for (let seed = 1; seed <= 60 && !expected.test(seen.join()); seed += 1) {
      seen.push(...faultsOf(await new World(seed, mutant).run(N_STEPS)));
    }
    expect(seen.join()).toMatch(expected);
  }, 120_000);
});
