import { miniLane } from "@/core/charts.ts";
import { percent } from "@/core/display.ts";
import { laneDots, stackedDots, VERGE_FRAC } from "@/core/lane.ts";
import type { SettleRow } from "@/core/settle.ts";
import type { LaneWord, Stage, StageForecast, StagePlan } from "@/protocol/records.ts";
import { doc } from "@/store/state.ts";
import { laneWord, MiniLaneMark } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const DRY_KERB_FRAC = -0.02;
const WIDTH = 150;
const HEIGHT = 32;

/** The balance of a row: one mark once both weighings are in, twenty dots while it is still a forecast. */
export function LaneBalance({ row, stage }: { row: SettleRow; stage: Stage }) {
  const forecast = doc<StageForecast>(`stage_forecast:${row.riderId}:${stage.id}`);
  const plan = doc<StagePlan>(`stage_plan:${row.riderId}:${stage.id}`);
  const drunkL = row.agreedL ?? row.proposedL;
  if (row.changeFrac === null && forecast !== null && plan !== null && drunkL !== null) {
    return <LaneDotsStrip forecast={forecast} plan={plan} intakeL={drunkL} />;
  }
  const word = row.lane;
  const share = row.changeFrac === null ? null : (row.changeFrac - DRY_KERB_FRAC) / -DRY_KERB_FRAC;
  const said = row.changeFrac === null ? laneWord(word) : `${laneWord(word)}, ${percent(row.changeFrac)}`;
  return (
    <span class="sx-lane">
      <MiniLaneMark lane={miniLane(word, share, 0.15 + row.proposedSdL * 0.5)} label={said} />
      <span>{laneWord(word)}{row.changeFrac !== null && <small> {percent(row.changeFrac)}</small>}</span>
    </span>
  );
}

/** Twenty equally likely ends of the stage at this intake, between the kerbs of the plan. */
export function LaneDotsStrip({ forecast, plan, intakeL }: { forecast: StageForecast; plan: StagePlan; intakeL: number }) {
  const dots = laneDots({ quantilesL: forecast.sweat_quantiles_l, intakeL, lowL: plan.lane_low_l, highL: plan.lane_high_l });
  return (
    <span class="sx-lane">
      <LaneRoad positions={dots.positions} word={dots.word} />
      <span>{laneSaid(dots.word, dots.nDry, dots.nIn, dots.nWet)}</span>
    </span>
  );
}

function laneSaid(word: LaneWord, nDry: number, nIn: number, nWet: number): string {
  if (word === "cant_tell" || word === "nothing_noted") return laneWord(word);
  const n = word === "dry" ? nDry : word === "wet" ? nWet : nIn;
  return t("staff.lane_in_20", { word: laneWord(word), n });
}

function LaneRoad({ positions, word }: { positions: readonly number[]; word: LaneWord }) {
  const left = WIDTH * VERGE_FRAC;
  const right = WIDTH * (1 - VERGE_FRAC);
  return (
    <svg class="sx-road" viewBox={`0 0 ${WIDTH} ${HEIGHT}`} width={WIDTH} height={HEIGHT} role="img" aria-label={laneWord(word)}>
      <rect class="lane-ground" x={left} y="1" width={right - left} height={HEIGHT - 2} />
      <path class="lane-kerb" d={`M${left} 1V${HEIGHT - 1}M${right} 1V${HEIGHT - 1}`} />
      {stackedDots(positions, WIDTH, HEIGHT, 5).map((dot, i) => (
        <DotMark key={i} side={dot.side} x={dot.x} y={dot.y} />
      ))}
    </svg>
  );
}

function DotMark({ side, x, y }: { side: "dry" | "in_lane" | "wet"; x: number; y: number }) {
  if (side === "dry") return <circle class="lane-dry" cx={x} cy={y} r="2.4" />;
  if (side === "wet") return <rect class="lane-wet" x={x - 2.5} y={y - 2.5} width="5" height="5" />;
  return <circle class="lane-in" cx={x} cy={y} r="2.8" />;
}
