/** Covers other people's figures while nobody is at the screen: after a while, and in the list of open apps. */

import type { ComponentType } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";

import { Button } from "@/ui/parts/button.tsx";
import { t } from "@/ui/words.ts";

const PHONE_IDLE_MS = 60_000;
/** A desk has a lock of its own, and a person may read one page for long. */
const DESK_IDLE_MS = 5 * 60_000;
const LOOK_EACH_MS = 1000;
const SIGNS = ["pointerdown", "pointermove", "keydown", "input", "scroll"] as const;
const COVERED = "cv-covered";

const idleMs = (): number => (matchMedia("(pointer: coarse)").matches ? PHONE_IDLE_MS : DESK_IDLE_MS);

/** Cover a page while its reader is away. It stays as it is underneath: nothing typed is lost. */
export function covered(Screen: ComponentType): ComponentType {
  return function Covered() {
    const under = useRef<HTMLDivElement>(null);
    const [isCovered, setCovered] = useState(false);
    useAway((isAway) => {
      // At once, not with the next drawing: what the system keeps as a picture of the app is taken now.
      under.current?.classList.toggle(COVERED, isAway);
      setCovered(isAway);
    }, isCovered);
    return (
      <>
        <div ref={under} class={isCovered ? `cv-page ${COVERED}` : "cv-page"}><Screen /></div>
        {isCovered && (
          <main class="cv-cover">
            <h1>{t("cover.what")}</h1>
            <p>{t("cover.kept")}</p>
            <Button kind="act" onPress={() => setCovered(false)}>{t("cover.show")}</Button>
          </main>
        )}
      </>
    );
  };
}

/** Say when the reader goes, by doing nothing for long or by leaving the app, and when he is soon back in it. */
function useAway(say: (isAway: boolean) => void, isAway: boolean): void {
  const leftAtMs = useRef<number | null>(null);
  useEffect(() => {
    let lastMs = Date.now();
    const sign = (): void => { lastMs = Date.now(); };
    const look = (): void => { if (!isAway && Date.now() - lastMs >= idleMs()) say(true); };
    const turn = (): void => {
      if (document.visibilityState === "hidden") {
        if (!isAway) leftAtMs.current = lastMs;
        say(true);
      } else if (leftAtMs.current !== null) {
        if (Date.now() - leftAtMs.current < idleMs()) say(false);
        leftAtMs.current = null;
      }
    };
    const timer = setInterval(look, LOOK_EACH_MS);
    for (const name of SIGNS) addEventListener(name, sign, { passive: true, capture: true });
    document.addEventListener("visibilitychange", turn);
    return () => {
      clearInterval(timer);
      for (const name of SIGNS) removeEventListener(name, sign, { capture: true });
      document.removeEventListener("visibilitychange", turn);
    };
  }, [isAway]);
}
