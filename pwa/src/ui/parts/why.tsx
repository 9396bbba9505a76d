import type { Derived, Flag } from "@/protocol/records.ts";
import { Evidence } from "@/ui/parts/evidence.tsx";
import { flagSentence, reasonSentence } from "@/ui/parts/said.ts";
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
              {reason.source && <small> {t("why.source", { source: spoken(`source.${reason.source}`) ?? reason.source })}</small>}
            </li>
          ))}
        </ul>
      )}
      <p class="why-basis">{t("why.version", { version: of.basis.engine_version, n: of.basis.input_ids.length })}</p>
    </details>
  );
}
