import { decimal, litres, litresFigure, percent } from "@/core/display.ts";
import { sanity, type Figure, type Sanity, type SettleRow } from "@/core/settle.ts";
import type { Flag, Stage } from "@/protocol/records.ts";
import { Why } from "@/ui/parts/why.tsx";
import { TwinCards } from "@/ui/parts/twin_card.tsx";
import { canEdit, riderTitle } from "@/ui/screens/staff/look.ts";
import { Flags } from "@/ui/screens/staff/parts.tsx";
import { BesideEachOther, ReasonChips, RefusedLine, Reopen, UnseenLines } from "@/ui/screens/staff/settle_choices.tsx";
import { SettleEvents } from "@/ui/screens/staff/settle_events.tsx";
import { SettlePreview } from "@/ui/screens/staff/settle_preview.tsx";
import type { RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

interface DetailProps {
  r: RiderRow;
  stage: Stage;
  ids: readonly string[];
}

/** The row in hand: why its figure is what it is, what the scales say against it, what agreeing would teach. */
export function SettleDetail({ r, stage, ids }: DetailProps) {
  return (
    <section class="sx-detail" aria-label={t("staff.settle.row_of", { rider: riderTitle(r.rider) })}>
      <div class="sx-why">
        <h2 class="sx-detail-name"><span class="sx-no">{r.rider.race_number}</span> {r.rider.name}</h2>
        <p class="sx-why-line">{whyText(r.row)}</p>
        <Sums row={r.row} />
        <Checks found={sanity(r.row)} flags={r.settlement?.flags ?? []} />
        {r.settlement !== null && <Why of={r.settlement} />}
      </div>
      <div class="sx-detail-acts">
        {canEdit.value && (
          <>
            <BesideEachOther r={r} stage={stage} />
            <UnseenLines r={r} stage={stage} />
            <RefusedLine r={r} stage={stage} />
            {r.row.state !== "settled" && <ReasonChips r={r} stage={stage} ids={ids} />}
          </>
        )}
        {canEdit.value && <TwinCards riderId={r.rider.id} stageId={stage.id} />}
        <SettlePreview r={r} stage={stage} />
        <SettleEvents r={r} stage={stage} />
        {canEdit.value && r.row.state === "settled" && <Reopen r={r} stage={stage} key={r.rider.id} />}
      </div>
    </section>
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
  const others = flags.filter((flag) => flag.code !== "agreed_twice" && !(SAME_THING[flag.code] ?? []).some((code) => codes.has(code)));
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
  bottles: (value) => decimal(value, 0),
};

export function checkText(check: Sanity): string {
  const said = Object.fromEntries(
    Object.entries(check.values).map(([name, value]) => [name, (SAID_AS[name] ?? litresFigure)(value)]),
  );
  const p = { gap: "", noted: "", up: "", derived: "", kg: "", frac: "", sweat: "", low: "", high: "", bottles: "", ...said };
  switch (check.code) {
    case "unseen": return t("staff.check.unseen", p);
    case "unaccounted": return t("staff.check.unaccounted", { ...p, n: check.values["bottles"] ?? 0 });
    case "over_noted": return t("staff.check.over_noted", p);
    case "heavier": return `${t("staff.check.heavier", p)} ${t("staff.physician")}`;
    case "sweat_high": return t("staff.check.sweat_high", p);
    case "sweat_low": return t("staff.check.sweat_low", p);
    case "deep_loss": return t("staff.check.deep_loss", p);
    case "no_before": return t("staff.check.no_before");
    case "no_after": return t("staff.check.no_after");
  }
}
