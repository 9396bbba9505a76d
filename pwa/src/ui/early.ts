/** Fetches the first page's chunk while the store is still being read: the role of last time says which it will be. */

import type { Role } from "@/protocol/records.ts";
import { want } from "@/ui/chunks.ts";
import { mayOpen, pageOf, STOPS } from "@/ui/nav.tsx";

const SHELF = "brinebook.role";

export const rememberRole = (role: Role): void => localStorage.setItem(SHELF, role);

/** Ask for it; a page with sentences of its own waits until the language is known. */
export function wantEarly(spoken: Promise<void>): void {
  const role = localStorage.getItem(SHELF) as Role | null;
  if (role === null || !Object.hasOwn(STOPS, role)) return;
  const name = pageOf(role);
  if (!mayOpen(role, name)) return;
  if (name === "road") want(name);
  else void spoken.then(() => want(name));
}
