import { acrossRoad, type LaneDots, positionOfWord, stackedDots, VERGE_FRAC } from "@/core/lane.ts";
import type { LaneWord } from "@/protocol/records.ts";
import { t } from "@/ui/words.ts";

const WIDTH = 358;
const DOT = 9;

function Dot({ x, y, side, size }: { x: number; y: number; side: "dry" | "in_lane" | "wet"; size: number }) {
  const r = size / 2;
  if (side === "dry") return <circle class="lane-dry" cx={x} cy={y} r={r - 1} />;
  if (side === "wet") return <rect class="lane-wet" x={x - r + 0.5} y={y - r + 0.5} width={size - 1} height={size - 1} />;
  return <circle class="lane-in" cx={x} cy={y} r={r - 0.2} />;
}

/** Twenty equally likely ends of the stage between two kerbs, with the counts in words below. */
export function Lane({ dots, height = 64, basis }: { dots: LaneDots; height?: number; basis?: string }) {
  const { nDry, nIn, nWet, word, positions } = dots;
  const left = WIDTH * VERGE_FRAC;
  const right = WIDTH - left;
  const isEmpty = positions.length === 0;
  const label = isEmpty ? t("lane.nothing_noted") : `${t(`lane.${word}`)}: ${t("lane.counts", { dry: nDry, lane: nIn, wet: nWet })}`;
  return (
    <figure class="lane">
      <svg viewBox={`0 0 ${WIDTH} ${height}`} role="img" aria-label={label}>
        <rect class="lane-ground" x={left} y="0" width={right - left} height={height} />
        <path class="lane-crown" d={`M${WIDTH / 2} 3V${height}`} />
        <path class="lane-kerb" d={`M${left} 0V${height}M${right} 0V${height}`} />
        {stackedDots(positions, WIDTH, height - 4, DOT).map((dot, i) => <Dot key={i} x={dot.x} y={dot.y + 2} side={dot.side} size={DOT} />)}
      </svg>
      <figcaption aria-hidden="true">
        {isEmpty ? <b>{t("lane.nothing_noted")}</b> : (
          <>
            <span>{t("lane.dryN", { n: nDry })}</span>
            <span><b>{word === "in_lane" ? t("lane.laneN", { n: nIn }) : t(`lane.${word}`)}</b> {basis}</span>
            <span>{t("lane.wetN", { n: nWet })}</span>
          </>
        )}
      </figcaption>
    </figure>
  );
}

interface MiniProps {
  word: LaneWord | null;
  /** Where the mark stands, when more than the word is known. */
  position?: number | null;
  isSettled?: boolean;
  label: string;
}

/** One stage in 44 by 24: one mark between two kerbs. Empty: nothing noted; a slash: not settled. */
export function MiniLane({ word, position, isSettled = true, label }: MiniProps) {
  const at = position ?? (word === null ? null : positionOfWord(word));
  const side = at === null ? null : at < 0 ? "dry" : at > 1 ? "wet" : "in_lane";
  const left = 44 * VERGE_FRAC;
  return (
    <svg class="mini-lane" viewBox="0 0 44 24" width="44" height="24" role="img" aria-label={label}>
      <rect class="lane-ground" x={left} y="1" width={44 - 2 * left} height="22" />
      <path class="lane-kerb" d={`M${left} 1V23M${44 - left} 1V23`} />
      {!isSettled && <path class="lane-open" d="M27 4 17 20" />}
      {isSettled && word === "cant_tell" && <path class="lane-unsure" d={`M${left - 7} 12H${44 - left + 7}`} />}
      {isSettled && side !== null && word !== "cant_tell" && <Dot x={acrossRoad(at ?? 0, 44, 6)} y={12} side={side} size={10} />}
    </svg>
  );
}
