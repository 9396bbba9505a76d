/** Hash routes: "#/plans/stage-04/r-41" is the name "plans" with two arguments. */

import { signal } from "@preact/signals";

export interface Route {
  readonly name: string;
  readonly args: readonly string[];
}

export function parseRoute(hash: string): Route {
  const [name = "", ...args] = hash.replace(/^#\/?/, "").split("/").filter((part) => part !== "").map(decodeURIComponent);
  return { name, args };
}

const here = (): Route => parseRoute(globalThis.location?.hash ?? "");

export const route = signal<Route>(here());

export const href = (name: string, ...args: string[]): string => `#/${[name, ...args].map(encodeURIComponent).join("/")}`;

export function go(name: string, ...args: string[]): void {
  location.hash = href(name, ...args);
}

/** Go without leaving the page before in the history: a join link holds a secret. */
export function goInstead(name: string): void {
  history.replaceState(null, "", href(name));
  route.value = here();
}

globalThis.addEventListener?.("hashchange", () => {
  route.value = here();
  scrollTo(0, 0);
});
