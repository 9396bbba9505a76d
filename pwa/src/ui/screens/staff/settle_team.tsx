import { useState } from "preact/hooks";

import { litres, litresFigure, parseNumber } from "@/core/display.ts";
import type { SettleRow } from "@/core/settle.ts";
import { COUNT_KINDS, sharedOut, teamAccount, type CountKind, type TeamAccount } from "@/core/team_count.ts";
import type { Stage } from "@/protocol/records.ts";
import { append, cameBack } from "@/store/commands.ts";
import { docsOf, folded, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { canEdit } from "@/ui/screens/staff/look.ts";
import type { RiderRow } from "@/ui/screens/staff/settle_state.ts";
import { t } from "@/ui/words.ts";

const SEEN_L = 0.25;

/** The team's own account: what was loaded must be somewhere, whoever drank it. */
export function SettleTeam({ rows, stage }: { rows: readonly RiderRow[]; stage: Stage }) {
  const team = session.value?.team;
  if (team === undefined) return null;
  const bare = rows.map((r) => r.row);
  const account = teamAccount(folded.value.live.values(), team.id, stage.id, bare);
  return (
    <section class="sx-panel sx-team" aria-labelledby="team-title">
      <h2 id="team-title">{t("staff.team.title")}</h2>
      <div class="sx-team-counts">
        {COUNT_KINDS.map((what) => <CountEntry key={what} what={what} account={account} stage={stage} teamId={team.id} />)}
      </div>
      <ul class="sx-plain">{accountLines(account).map((line) => <li key={line}>{line}</li>)}</ul>
      {canEdit.value && account.counted.came_back !== null && <ShareOut account={account} rows={bare} stage={stage} teamId={team.id} />}
    </section>
  );
}

function usualBottleL(): number {
  const sizes = docsOf("drink").map((drink) => drink.bottle_l ?? 0.5).sort((a, b) => a - b);
  return sizes[Math.floor(sizes.length / 2)] ?? 0.5;
}

interface EntryProps {
  what: CountKind;
  account: TeamAccount;
  stage: Stage;
  teamId: string;
}

/** A count in bottles; the litres follow from the usual bottle and can be typed over. */
function CountEntry({ what, account, stage, teamId }: EntryProps) {
  const known = account.counted[what];
  const [bottles, setBottles] = useState("");
  const [volume, setVolume] = useState("");
  const n = parseNumber(bottles);
  const volumeL = parseNumber(volume) ?? (n === null ? null : n * usualBottleL());
  const isFit = n !== null && Number.isInteger(n) && n >= 0 && n <= 400 && volumeL !== null && volumeL >= 0 && volumeL <= 400;
  const isOff = (bottles.trim() !== "" || volume.trim() !== "") && !isFit;
  const id = `count-${what}`;
  const keep = async (): Promise<void> => {
    if (!isFit || n === null || volumeL === null) return;
    await append("team_count", teamId, { what, n_bottles: n, volume_l: volumeL }, { stageId: stage.id });
    setBottles("");
    setVolume("");
  };
  return (
    <form class="sx-count" onSubmit={(event) => { event.preventDefault(); void keep(); }}>
      <p><b>{t(`staff.team.${what}`)}</b> {known === null ? t("staff.team.not_counted") : t("staff.team.counted", { n: known.nBottles, l: litres(known.volumeL) })}</p>
      {canEdit.value && (
        <span class="sx-line">
          <span class="sx-field"><label for={`${id}-n`}>{t("staff.team.bottles")}<span class="hidden"> {t(`staff.team.${what}`)}</span></label>
            <input id={`${id}-n`} inputMode="numeric" autocomplete="off" value={bottles} aria-invalid={isOff} onInput={(event) => setBottles(event.currentTarget.value)} /></span>
          <span class="sx-field"><label for={`${id}-l`}>{t("staff.team.litres")}<span class="hidden"> {t(`staff.team.${what}`)}</span></label>
            <input id={`${id}-l`} inputMode="decimal" autocomplete="off" value={volume} placeholder={volumeL === null ? "" : litresFigure(volumeL)} onInput={(event) => setVolume(event.currentTarget.value)} /></span>
          <button type="submit" class="button button-quiet" disabled={!isFit}>{t("staff.team.count")}<span class="hidden"> {t(`staff.team.${what}`)}</span></button>
        </span>
      )}
      {isOff && <p class="sx-issue" role="alert">{t("staff.team.off", { typed: `${bottles} ${volume}`.trim() })}</p>}
    </form>
  );
}

/** The account in words, what nobody can explain last. */
export function accountLines(account: TeamAccount): string[] {
  const lines = [t("staff.team.riders", {
    up: litres(account.handedUpL), back: litres(account.riderBackL), gone: litres(account.riderGoneL), agreed: litres(account.agreedL),
  })];
  if (account.notHandedL !== null && account.leftCarsL !== null) {
    const values = { left: litres(account.leftCarsL), gap: litres(Math.abs(account.notHandedL)), n: Math.round(Math.abs(account.notHandedL) / usualBottleL()) };
    lines.push(Math.abs(account.notHandedL) < SEEN_L ? t("staff.team.fits", values)
      : t(account.notHandedL > 0 ? "staff.team.not_handed" : "staff.team.over_handed", values));
  }
  if (account.unexplainedL === null) lines.push(t("staff.team.waits"));
  else if (Math.abs(account.unexplainedL) < SEEN_L) lines.push(t("staff.team.explained"));
  else lines.push(t(account.unexplainedL > 0 ? "staff.team.unexplained" : "staff.team.too_much", { l: litres(Math.abs(account.unexplainedL)) }));
  return lines;
}

/** Bottles in the crate carry no name: share them over the riders still open, and the crate is empty. */
function ShareOut({ account, rows, stage, teamId }: { account: TeamAccount; rows: readonly SettleRow[]; stage: Stage; teamId: string }) {
  const volumeL = account.counted.came_back?.volumeL ?? 0;
  const parts = sharedOut(volumeL, rows);
  if (volumeL <= 0 || parts.length === 0) return null;
  const share = async (): Promise<void> => {
    for (const part of parts) await cameBack(part.riderId, stage.id, { left_l: part.volumeL, how: "counted" });
    await append("team_count", teamId, { what: "came_back", n_bottles: 0, volume_l: 0 }, { stageId: stage.id });
  };
  return <Button kind="quiet" onPress={() => void share()}>{t("staff.team.share", { l: litres(volumeL), n: parts.length })}</Button>;
}
