import type { Derived, Explained, Flag } from "@/protocol/records.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { figure, flagSentence, named, quantity, reasonSentence, sourceName } from "@/ui/parts/said.ts";
import { spoken, t } from "@/ui/words.ts";

/** Warnings in words, the gravest first. */
export function Flags({ flags }: { flags: readonly Flag[] | undefined }) {
  const order = { medical: 0, stop: 1, caution: 2, note: 3 } as const;
  const sorted = [...(flags ?? [])].sort((a, b) => order[a.severity] - order[b.severity]);
  if (sorted.length === 0) return null;
  return (
    <ul class="flags">
      {sorted.map((flag) => <li key={flag.code + (flag.quantity ?? "")} class={`flag flag-${flag.severity}`}>{flagSentence(flag)}</li>)}
    </ul>
  );
}

/** One result with its equation, its inputs and how each is known, and the range the equation was made for. */
function Equation({ one }: { one: Explained }) {
  const outside = (one.valid ?? []).filter((met) => met.value < met.low || met.value > met.high);
  return (
    <div class="why-equation">
      <p><strong>{named(one.quantity)}: {quantity(one.quantity, one.value)}</strong></p>
      <p>{spoken(`equation.${one.equation}`) ?? one.equation} <small>{t("why.source", { source: one.sources.map(sourceName).join("; ") })}</small></p>
      <ul>
        {one.inputs.map((input, i) => (
          <li key={i}>
            {named(input.quantity)}: {input.value === undefined || input.value === null ? t("why.notTold") : quantity(input.quantity, input.value)}
            {" "}<Evidence kind={input.evidence ?? "default"} />
          </li>
        ))}
      </ul>
      {outside.map((met) => <p key={met.quantity}>{t("why.outside", { name: named(met.quantity), low: figure(met.low), high: figure(met.high) })}</p>)}
    </div>
  );
}

/** Opens a figure: its inputs, how each is known, and where the equation comes from. */
export function Why({ of, label }: { of: Derived; label?: string }) {
  const reasons = of.reasons ?? [];
  return (
    <details class="why">
      <summary>{label ?? t("why.open")}</summary>
      {reasons.length === 0 ? <p>{t("why.none")}</p> : (
        <ul>
          {reasons.map((reason, i) => (
            <li key={i}>
              {reasonSentence(reason)} <Evidence kind={reason.evidence ?? null} />
              {reason.source && <small> {t("why.source", { source: sourceName(reason.source) })}</small>}
            </li>
          ))}
        </ul>
      )}
      {(of.explained ?? []).map((one) => <Equation key={one.quantity} one={one} />)}
      <p class="why-basis">{t("why.version", { version: of.basis.engine_version, n: of.basis.input_ids.length })}</p>
    </details>
  );
}
