import { useState } from "preact/hooks";

import { decimal, litres, litresFigure, percent } from "@/core/display.ts";
import { sanity, type Figure, type Sanity, type SettleRow } from "@/core/settle.ts";
import type { Flag, Stage } from "@/protocol/records.ts";
import { Why } from "@/ui/parts/why.tsx";
import { reopen } from "@/ui/screens/staff/acts.ts";
import { Flags } from "@/ui/screens/staff/parts.tsx";
import { draftOf, readiness, REASONS, setDraft, type RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { WeighAgain } from "@/ui/screens/staff/settle_weigh.tsx";
import { spoken, t } from "@/ui/words.ts";

/** Why the figure is what it is, what the scales say against it, and what can be done about it. */
export function SettleDetail({ r, stage, isReadOnly }: { r: RiderRow; stage: Stage; isReadOnly: boolean }) {
  return (
    <div class="sx-detail">
      <div class="sx-why">
        <p class="sx-why-line">{whyText(r.row)}</p>
        <Sums row={r.row} />
        <Checks found={sanity(r.row)} flags={r.settlement?.flags ?? []} />
        {r.settlement !== null && <Why of={r.settlement} />}
      </div>
      {!isReadOnly && (
        <div class="sx-detail-acts">
          {r.row.state !== "settled" && <ReasonChips r={r} stage={stage} />}
          {r.row.state === "settled" ? <Reopen r={r} stage={stage} /> : <WeighAgain r={r} stage={stage} key={r.rider.id} />}
        </div>
      )}
    </div>
  );
}

const figureOf = (figure: Figure): string => litresFigure(figure.value ?? 0);

/** handed up − back − poured − lost = drunk, in the order the table stands. */
export function whyText(row: SettleRow): string {
  if (row.derivedL === null) {
    return row.noted.value === null ? t("staff.settle.why_nothing") : t("staff.settle.why_noted", { noted: litresFigure(row.noted.value) });
  }
  return t("staff.settle.why", {
    drunk: litresFigure(row.derivedL), up: figureOf(row.up), back: figureOf(row.back), poured: figureOf(row.poured),
    lost: figureOf(row.lost),
  });
}

/** Proposed, noted and what the scales give, side by side. */
function Sums({ row }: { row: SettleRow }) {
  const parts: string[] = [];
  if (row.proposedL !== null) {
    parts.push(row.proposedSdL > 0
      ? t("staff.settle.proposed_spread", {
        drunk: litresFigure(row.proposedL), low: litresFigure(Math.max(0, row.proposedL - 2 * row.proposedSdL)),
        high: litresFigure(row.proposedL + 2 * row.proposedSdL),
      })
      : t("staff.settle.proposed_figure", { drunk: litresFigure(row.proposedL) }));
  }
  if (row.massBeforeKg !== null && row.massAfterKg !== null && row.changeFrac !== null) {
    parts.push(t("staff.settle.mass_line", {
      kg: decimal(Math.abs(row.massBeforeKg - row.massAfterKg), 1), percent: percent(Math.abs(row.changeFrac)),
      way: row.changeFrac <= 0 ? "lighter" : "heavier",
    }));
  }
  if (row.sweatL !== null) parts.push(t("staff.settle.sweat_line", { sweat: litres(row.sweatL) }));
  return <p class="sx-sums">{parts.join(" ")}</p>;
}

/** What the server says in other words about the same thing is said once. */
const SAME_THING: Readonly<Record<string, readonly Sanity["code"][]>> = {
  drank_above_losses: ["heavier"],
  weigh_again: ["sweat_high", "sweat_low", "deep_loss"],
  unexplained_litres: ["unseen", "over_noted"],
  no_weigh_in: ["no_before", "no_after"],
};

function Checks({ found, flags }: { found: readonly Sanity[]; flags: readonly Flag[] }) {
  const codes = new Set(found.map((check) => check.code));
  const others = flags.filter((flag) => !(SAME_THING[flag.code] ?? []).some((code) => codes.has(code)));
  if (found.length === 0 && others.length === 0) return <p class="sx-sound">{t("staff.settle.sound")}</p>;
  return (
    <>
      {found.length > 0 && (
        <ul class="flags">
          {found.map((check) => <li key={check.code} class={`flag flag-${check.severity}`}>{checkText(check)}</li>)}
        </ul>
      )}
      {others.length > 0 && <Flags flags={others} />}
    </>
  );
}

const SAID_AS: Readonly<Record<string, (value: number) => string>> = {
  kg: (value) => decimal(value, 1),
  frac: percent,
};

function checkText(check: Sanity): string {
  const said = Object.fromEntries(
    Object.entries(check.values).map(([name, value]) => [name, (SAID_AS[name] ?? litresFigure)(value)]),
  );
  const p = { gap: "", noted: "", up: "", derived: "", kg: "", frac: "", sweat: "", low: "", high: "", ...said };
  switch (check.code) {
    case "unseen": return t("staff.check.unseen", p);
    case "over_noted": return t("staff.check.over_noted", p);
    case "heavier": return `${t("staff.check.heavier", p)} ${t("staff.physician")}`;
    case "sweat_high": return t("staff.check.sweat_high", p);
    case "sweat_low": return t("staff.check.sweat_low", p);
    case "deep_loss": return t("staff.check.deep_loss", p);
    case "no_before": return t("staff.check.no_before");
    case "no_after": return t("staff.check.no_after");
  }
}

/** A figure of one's own needs a reason; the chips come when it differs and say what is missing. */
function ReasonChips({ r, stage }: { r: RiderRow; stage: Stage }) {
  const draft = draftOf(stage.id, r.rider.id);
  const ready = readiness(r.row, draft);
  if (draft === null) return null;
  if (!ready.can && ready.why !== "reason") {
    return <p class="sx-issue" role="alert">{spoken(`staff.settle.why_not_${ready.why}`, { typed: draft.text })}</p>;
  }
  if (ready.can && ready.reason === "") return null;
  return (
    <fieldset class="sx-chips">
      <legend>{t("staff.settle.reason_for", { typed: draft.text.trim(), proposed: litresFigure(r.row.proposedL ?? 0) })}</legend>
      {REASONS.map((reason) => (
        <label key={reason} class={draft.reason === reason ? "sx-chip sx-chip-on" : "sx-chip"}>
          <input
            type="radio" name={`reason-${r.rider.id}`} checked={draft.reason === reason}
            onChange={() => setDraft(stage.id, r.rider.id, { ...draft, reason })}
          />
          {t(`staff.because.${reason}`)}
        </label>
      ))}
    </fieldset>
  );
}

/** A settled row opens again only with a reason, which stays in the book. */
function Reopen({ r, stage }: { r: RiderRow; stage: Stage }) {
  const [reason, setReason] = useState("");
  const id = `reopen-${r.rider.id}`;
  const send = (): void => {
    if (reason.trim() === "") document.getElementById(id)?.focus();
    else void reopen(r.rider.id, stage.id, reason.trim());
  };
  return (
    <div class="sx-reopen">
      {r.row.agreedReason !== "" && <p class="sx-quiet">{t(`staff.because.${r.row.agreedReason as "other"}`)}</p>}
      <label for={id}>{t("staff.settle.reopen_reason")}</label>
      <span class="sx-line">
        <input id={id} value={reason} maxLength={400} onInput={(event) => setReason(event.currentTarget.value)} />
        <button type="button" class="button button-quiet" onClick={send}>{t("staff.settle.reopen")}</button>
      </span>
    </div>
  );
}
