import type { Role } from "@/protocol/records.ts";
import { href, route } from "@/ui/route.ts";
import { type Key, t } from "@/ui/words.ts";

type Stop = readonly [name: string, words: Key & `nav.${string}`];

const ROAD: Stop = ["road", "nav.road"];
const BUS: Stop = ["bus", "nav.bus"];
const WEEKS: Stop = ["weeks", "nav.weeks"];
const ME: Stop = ["me", "nav.me"];
const HAND_UP: Stop = ["hand-up", "nav.handUp"];
const RETURNS: Stop = ["returns", "nav.returns"];
const SLATE: Stop = ["slate", "nav.slate"];
const COOLBOX: Stop = ["coolbox", "nav.coolbox"];
const WEIGH_ROOM: Stop = ["weigh-room", "nav.weighRoom"];
const SETTLE: Stop = ["settle", "nav.settle"];
const PLANS: Stop = ["plans", "nav.plans"];
const THREE_WEEKS: Stop = ["three-weeks", "nav.threeWeeks"];
const WATCH: Stop = ["watch", "nav.watch"];
const DESK: Stop = ["desk", "nav.desk"];

const PHYSIOLOGIST: readonly Stop[] = [SETTLE, PLANS, THREE_WEEKS, WATCH, DESK, ME];

/** The pages of a role; the first is where it lands. */
export const STOPS: Readonly<Record<Role, readonly Stop[]>> = {
  rider: [ROAD, BUS, WEEKS, ME],
  soigneur: [HAND_UP, RETURNS, COOLBOX, WEIGH_ROOM, ME],
  car: [HAND_UP, SLATE, RETURNS, ME],
  physiologist: PHYSIOLOGIST,
  coach: [THREE_WEEKS, PLANS, ME],
  doctor: [WATCH, THREE_WEEKS, SLATE, SETTLE, ME],
  admin: PHYSIOLOGIST,
};

/** What the desk's own page leads to. */
const OF_THE_DESK = [
  "bus", "slate", "hand-up", "returns", "weigh-room", "sweat-day", "race-book", "rider", "season",
  "coolbox", "drinks", "start", "files", "keys", "rides",
] as const;

/** Pages a role may open without a stop of its own: noting in a rider's place. */
const ASIDE: Readonly<Partial<Record<Role, readonly string[]>>> = {
  rider: ["rides"], soigneur: ["bus", "drinks"], car: ["bus", "coolbox", "drinks"], coach: ["season"], doctor: ["bus", "rider", "season", "weigh-room", "files", "rides"],
  physiologist: OF_THE_DESK, admin: OF_THE_DESK,
};

export const mayOpen = (role: Role, name: string): boolean =>
  name === "shared" || name === "mine" || STOPS[role].some(([stop]) => stop === name) || (ASIDE[role] ?? []).includes(name);

/** The stop a page lies behind, where it is none itself: what is one's own behind Me, the rest behind the desk. */
const isBehind = (role: Role, page: string, name: string): boolean =>
  !STOPS[role].some(([stop]) => stop === page) && name === (page === "mine" ? "me" : "desk");

/** The page on screen: without a name in the address, the role's first. */
export const pageOf = (role: Role): string => route.value.name || (STOPS[role][0]?.[0] ?? "me");

export function Nav({ role }: { role: Role }) {
  return (
    <nav class="nav" aria-label={t("nav.label")}>
      {STOPS[role].map(([name, words]) => (
        <a key={name} href={href(name)} aria-current={pageOf(role) === name ? "page" : isBehind(role, pageOf(role), name) ? "true" : undefined}>{t(words)}</a>
      ))}
    </nav>
  );
}
