import type { ComponentChildren } from "preact";

import { t } from "@/ui/words.ts";

interface StepsProps {
  label: string;
  /** Where, for those who hear the screen: a list has the same stepper for each stretch. */
  place?: string;
  value: number;
  onValue: (value: number) => void;
  show: (value: number) => string;
  step?: number;
  most?: number;
  mark?: ComponentChildren;
  isLabelHidden?: boolean;
}

/** A stepper: less, a figure, more. No keyboard, no drag. */
export function Steps({ label, place, value, onValue, show, step = 0.5, most = 12, mark, isLabelHidden = false }: StepsProps) {
  const whole = place === undefined ? label : `${label}, ${place}`;
  return (
    <div class="steps" role="group" aria-label={whole}>
      <span class={isLabelHidden ? "hidden" : "steps-label"}>{label}</span>
      <button type="button" class="step" aria-label={t("steps.less", { label: whole })} disabled={value <= 0} onClick={() => onValue(Math.max(0, value - step))}>
        <svg viewBox="0 0 20 20" aria-hidden="true"><path d="M3 10H17" /></svg>
      </button>
      <output class="steps-value" aria-live="polite">{show(value)}{mark}</output>
      <button type="button" class="step" aria-label={t("steps.more", { label: whole })} disabled={value >= most} onClick={() => onValue(Math.min(most, value + step))}>
        <svg viewBox="0 0 20 20" aria-hidden="true"><path d="M3 10H17M10 3V17" /></svg>
      </button>
    </div>
  );
}
