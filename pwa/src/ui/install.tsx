/** Offers once to keep the app on the home screen: never on the road, never in the way, never again after "not now". */

import { signal } from "@preact/signals";

import { Button } from "@/ui/parts/button.tsx";
import { isHintSeen, seeHint } from "@/ui/parts/hint.tsx";
import { t } from "@/ui/words.ts";

interface InstallEvent extends Event {
  prompt(): Promise<unknown>;
}

const HINT = "install";
const offer = signal<InstallEvent | null>(null);

export const isStandalone = (): boolean => matchMedia("(display-mode: standalone)").matches;
/** iOS never asks by itself, and a page in its browser may lose what it keeps. */
export const isInIosTab = (): boolean => /iPhone|iPad/.test(navigator.userAgent) && !isStandalone();

/** Keep the browser's own question until a person wants it. */
export function startInstall(): void {
  addEventListener("beforeinstallprompt", (event) => {
    event.preventDefault();
    offer.value = event as InstallEvent;
  });
  addEventListener("appinstalled", () => {
    offer.value = null;
    void navigator.storage?.persist?.();
  });
}

export function InstallHint() {
  const asked = offer.value;
  if (isHintSeen(HINT) || (asked === null && !isInIosTab())) return null;
  const install = async (): Promise<void> => {
    seeHint(HINT);
    offer.value = null;
    await asked?.prompt();
  };
  return (
    <aside class="hint" aria-label={t("install.label")}>
      <p>{asked === null ? t("install.ios") : t("install.what")}</p>
      <div class="acts">
        {asked !== null && <Button onPress={() => void install()}>{t("install.yes")}</Button>}
        <Button kind="quiet" onPress={() => seeHint(HINT)}>{t("install.no")}</Button>
      </div>
    </aside>
  );
}
