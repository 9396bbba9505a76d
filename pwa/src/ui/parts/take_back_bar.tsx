import type { FactEvent } from "@/protocol/records.ts";
import { takeBack } from "@/store/commands.ts";
import { Button } from "@/ui/parts/button.tsx";
import { t } from "@/ui/words.ts";

export interface LastFact {
  /** What one tap made: one entry, or those of a musette. */
  readonly facts: readonly FactEvent[];
  /** What the act took from elsewhere goes back there. */
  readonly putBack?: () => Promise<unknown>;
  /** What it was, in a few words: "S → 61". */
  readonly words: string;
}

/** The last entry can be taken back until the next one is made; older ones stay in the list. */
export function TakeBackBar({ act, onDone }: { act: LastFact | null; onDone: () => void }) {
  if (act === null) return null;
  const undo = async (): Promise<void> => {
    for (const fact of act.facts) await takeBack(fact);
    await act.putBack?.();
    onDone();
    navigator.vibrate?.([40, 60, 40]);
  };
  return <div class="take-back"><Button onPress={() => void undo()}>{t("handUp.takeBack", { what: act.words })}</Button></div>;
}
