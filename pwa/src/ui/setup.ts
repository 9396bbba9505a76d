/** Tells the worker what this phone needs offline and how its pushes read, and the icon how much waits. */

import { effect, signal } from "@preact/signals";

import type { Role } from "@/protocol/records.ts";
import { docsOf, session } from "@/store/state.ts";
import { rememberRole } from "@/ui/early.ts";
import { language, t } from "@/ui/words.ts";

const PLANNERS: ReadonlySet<Role> = new Set(["physiologist", "admin"]);
const GROUPS: Readonly<Partial<Record<Role, readonly string[]>>> = { rider: [], soigneur: ["crew"], car: ["crew"] };

/** The groups of chunks a role uses, and their words in its language. */
export function groupsOf(role: Role, tongue: string): string[] {
  const own = GROUPS[role] ?? ["crew", "staff"];
  return tongue === "en" ? [...own] : [...own, tongue, ...own.map((group) => `${tongue}-${group}`)];
}

/** What a phone keeps beyond its holder's own: those who share it may be without a network. */
export const moreGroups = signal<readonly string[]>([]);

async function tellWorker(role: Role): Promise<void> {
  const setup = {
    groups: [...new Set([...groupsOf(role, language.value), ...moreGroups.value])],
    sentences: { plan: t("push.plan"), settle: t("push.settle"), weigh: t("push.weigh"), flag: t("push.flag"), sync: t("push.sync") },
  };
  const { active } = await navigator.serviceWorker.ready;
  active?.postMessage(setup);
}

/** A count of rider-stages to settle, for those who settle; never a name or a value. */
function showBadge(role: Role): void {
  const badge = navigator as { setAppBadge?: (n: number) => Promise<void> };
  if (!PLANNERS.has(role)) return;
  const n = docsOf("settlement").filter(({ state }) => state === "proposed").length;
  void badge.setAppBadge?.(n).catch(() => undefined);
}

export function startSetup(): void {
  effect(() => {
    const role = session.value?.member.role;
    if (role === undefined) return;
    rememberRole(role);
    if ("serviceWorker" in navigator) void tellWorker(role);
    showBadge(role);
  });
}
