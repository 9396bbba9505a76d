/** Who else has a cell of this table in hand. A hint over the link; without a link nobody is shown. */

import { effect, signal } from "@preact/signals";

import { link, session } from "@/store/state.ts";
import { post } from "@/sync/api.ts";
import { cursor, editing } from "@/ui/screens/staff/settle_state.ts";

interface Present {
  member_id: string;
  name: string;
  rider_id: string;
  column: string;
}

const EVERY_MS = 8_000;
const others = signal<readonly Present[]>([]);

export function presentAt(riderId: string, column: string): string {
  return others.value.filter((one) => one.rider_id === riderId && one.column === column).map((one) => one.name).join(", ");
}

export const presentNames = (): string[] => [...new Set(others.value.map((one) => one.name))];

/** Say where this screen is and hear where others are, while the stage is on screen; returns how to stop. */
export function bePresent(stageId: string): () => void {
  let isOver = false;
  const tell = async (): Promise<void> => {
    if (isOver || link.peek() !== "linked" || session.peek() === null || document.visibilityState !== "visible") return;
    const at = editing.peek() ?? cursor.peek();
    try {
      const reply = await post<{ others: Present[] }>("/api/presence", { stage_id: stageId, rider_id: at?.riderId ?? "", column: at?.column ?? "" });
      if (!isOver) others.value = reply.others;
    } catch {
      others.value = [];
    }
  };
  const timer = setInterval(() => void tell(), EVERY_MS);
  const stop = effect(() => { void editing.value; void link.value; void tell(); });
  return () => {
    isOver = true;
    clearInterval(timer);
    stop();
    others.value = [];
  };
}
