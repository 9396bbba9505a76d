import "@/ui/screens/hold/hold.css";

import { band } from "@/ui/chunks.ts";
import { Band, Chooser } from "@/ui/screens/hold/chooser.tsx";
import { watchHands } from "@/ui/screens/hold/hands.ts";
import { wantWords } from "@/ui/words.ts";

export { leaveShared } from "@/ui/screens/hold/hands.ts";
export { keepHalfTyped } from "@/ui/screens/hold/half_typed.ts";
export { comeInAs, comeInBy } from "@/ui/screens/hold/come_in.ts";
export { SharedPhone, ShareOrReplace } from "@/ui/screens/hold/chooser.tsx";

/** One chunk for everything about a phone that several share. */
export const routes = { hold: Chooser };

/** Say on top who holds the phone, and look after its hands. */
export async function startHolding(): Promise<void> {
  watchHands();
  await wantWords("pages", "own");
  band.value = Band;
}
