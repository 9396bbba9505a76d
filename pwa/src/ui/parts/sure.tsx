import { useEffect, useRef, useState } from "preact/hooks";
import type { ComponentChildren, Ref } from "preact";

import { Button } from "@/ui/parts/button.tsx";
import { t } from "@/ui/words.ts";

interface SureProps {
  children: ComponentChildren;
  /** What the second tap does, in full. */
  sure: string;
  onSure: () => void;
  kind?: "plain" | "quiet";
  label?: string | undefined;
  isDisabled?: boolean;
}

/** An act that wants a second tap. Who asks finds himself at the answer, and who leaves it where he was. */
export function Sure({ children, sure, onSure, kind = "plain", label, isDisabled = false }: SureProps) {
  const [isAsked, setAsked] = useState<boolean | null>(null);
  const box = useRef<HTMLSpanElement>(null);
  useEffect(() => {
    if (isAsked !== null) box.current?.querySelector("button")?.focus();
  }, [isAsked]);
  return (
    <span class="acts" ref={box}>
      {isAsked === true ? (
        <>
          <Button isDisabled={isDisabled} onPress={() => { setAsked(false); onSure(); }}>{sure}</Button>
          <Button kind="quiet" onPress={() => setAsked(false)}>{t("me.deviceKeep")}</Button>
        </>
      ) : <Button kind={kind} isDisabled={isDisabled} {...(label === undefined ? {} : { label })} onPress={() => setAsked(true)}>{children}</Button>}
    </span>
  );
}

const PLACE = "section, .sx-ring-person";
let lastPlace: Element | null = null;
globalThis.document?.addEventListener("focusin", ({ target }) => { lastPlace = target instanceof Element ? target.closest(PLACE) : null; });

/** What came of an act; when the act took its own button away, the focus comes here, and never for what was said unasked. */
export function useSaid(said: string): Ref<HTMLParagraphElement> {
  const ref = useRef<HTMLParagraphElement>(null);
  useEffect(() => {
    const isHere = ref.current !== null && ref.current.closest(PLACE) === lastPlace;
    if (said !== "" && isHere && document.activeElement === document.body) ref.current?.focus();
  }, [said]);
  return ref;
}

/** A button that rests during its own act loses the focus; what this returns gives it back when all is drawn again. */
export function focusKept(): () => void {
  const before = document.activeElement;
  return () => void setTimeout(() => {
    if (document.activeElement === document.body && before instanceof HTMLElement && before.isConnected) before.focus();
  }, 50);
}
