import { journal } from "@/store/journal.ts";
import { waiting } from "@/store/outbox.ts";
import { isTrimmed, now, offsetMs, unsent } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { t } from "@/ui/words.ts";

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
const CLOCK_LIMIT_MS = 2 * MINUTE_MS;
const EVERYTHING = 100_000;

/** How long the oldest unsent entry has waited here. */
export function oldestWaits(): string {
  const held = unsent.value;
  return held === null ? "" : t("held.oldest", { hours: Math.max(0, Math.floor((now.value - held.oldestAtMs) / HOUR_MS)) });
}

/** The unsent entries as a file: the way out when nothing else works. */
async function saveFile(): Promise<void> {
  const byId = new Map([...journal.all(), ...(await waiting(EVERYTHING))].map((event) => [event.id, event]));
  const lines = [...byId.values()].map((event) => JSON.stringify(event)).join("\n");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([lines, "\n"], { type: "application/x-ndjson" }));
  link.download = "brinebook-unsent.ndjson";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), MINUTE_MS);
}

export function SaveHeld() {
  if (unsent.value === null) return null;
  return <Button kind="quiet" onPress={() => void saveFile()}>{t("held.file")}</Button>;
}

/** What this phone says of itself: a clock that is off, a shelf that is full. Neither stops anybody. */
export function PhoneSays() {
  const off = offsetMs.value ?? 0;
  const minutes = Math.round(Math.abs(off) / MINUTE_MS);
  return (
    <>
      {Math.abs(off) > CLOCK_LIMIT_MS && <p class="flag flag-caution">{t("held.clock", { minutes, way: off < 0 ? "ahead" : "behind" })}</p>}
      {isTrimmed.value && <p class="flag flag-caution">{t("held.trimmed")}</p>}
    </>
  );
}
