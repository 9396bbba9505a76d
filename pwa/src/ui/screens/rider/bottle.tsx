import { useEffect, useId, useRef, useState } from "preact/hooks";

import { type CageName, LEVELS } from "@/core/cage.ts";
import { quarters } from "@/core/display.ts";
import { TapGuard, type TapVerdict, type Touch } from "@/core/tap.ts";
import { bike, drinkIn, isRain, tapLevel } from "@/ui/screens/rider/road_state.ts";
import { t } from "@/ui/words.ts";

const guard = new TapGuard();

export function rainIsOver(): void {
  guard.forget();
  isRain.value = false;
}

const touchOf = (event: PointerEvent): Touch => ({
  pointerId: event.pointerId, isPrimary: event.isPrimary, x: event.clientX, y: event.clientY, atMs: event.timeStamp,
});

/** Take a verdict: in the rain the entry is kept, but doubtful, and the screen asks before it carries on. */
function act(verdict: TapVerdict, cage: CageName, levelFrac: number): void {
  if (isRain.value) return;
  if (verdict === "rain" || verdict === "rain_hit") isRain.value = true;
  if (verdict === "hit" || verdict === "rain_hit") void tapLevel(cage, levelFrac);
}

function bandUnder(event: PointerEvent): string | null {
  const element = document.elementFromPoint(event.clientX, event.clientY);
  return element?.closest<HTMLElement>("[data-band]")?.dataset["band"] ?? null;
}

function Band({ cage, levelFrac }: { cage: CageName; levelFrac: number }) {
  const band = `${cage} ${levelFrac}`;
  const level = levelFrac === 0 ? `${quarters(0)} ${t("road.emptied")}` : quarters(levelFrac);
  const label = t("road.band", { cage: t(`cage.${cage}`), level });
  return (
    <button
      type="button" class="band" data-road data-band={band} aria-label={label}
      onPointerDown={(event) => {
        event.currentTarget.setPointerCapture(event.pointerId);
        guard.start(band, touchOf(event));
      }}
      onPointerUp={(event) => {
        act(guard.end(bandUnder(event), touchOf(event)), cage, levelFrac);
      }}
      onPointerCancel={(event) => guard.cancel(event.pointerId)}
      onClick={(event) => {
        // Only a key or an assistive tool clicks without a pointer.
        if (event.detail === 0) act(guard.hit(band, event.timeStamp), cage, levelFrac);
      }}
    >
      <span aria-hidden="true">{quarters(levelFrac)}{levelFrac === 0 && <>{" "}<small>{t("road.emptied")}</small></>}</span>
    </button>
  );
}

function useSize() {
  const ref = useRef<HTMLDivElement>(null);
  const [size, setSize] = useState({ width: 174, height: 470 });
  useEffect(() => {
    const element = ref.current;
    if (element === null) return undefined;
    const observer = new ResizeObserver(() => setSize({ width: element.clientWidth, height: element.clientHeight }));
    observer.observe(element);
    return () => observer.disconnect();
  }, []);
  return { ref, size };
}

const SHOULDER = 34;
const FOOT = 12;
const [TALL_GLASS_PX, LOW_GLASS_PX] = [799, 730];

/** Room above the shoulder; a low glass gives it to the bands. Twin of --collar in road.css. */
function collarPx(): number {
  if (innerHeight > TALL_GLASS_PX) return 24;
  return innerHeight > LOW_GLASS_PX ? 14 : 4;
}

function outline(width: number, height: number, inset: number): string {
  const [l, r, top, foot] = [inset, width - inset, collarPx(), height - inset];
  return [
    `M${l} ${top + SHOULDER}`, `Q${l} ${top} ${l + SHOULDER} ${top}`, `H${r - SHOULDER}`, `Q${r} ${top} ${r} ${top + SHOULDER}`,
    `V${foot - FOOT}`, `Q${r} ${foot} ${r - FOOT} ${foot}`, `H${l + FOOT}`, `Q${l} ${foot} ${l} ${foot - FOOT}`, "Z",
  ].join("");
}

function Drawing({ width, height, levelFrac }: { width: number; height: number; levelFrac: number }) {
  const clip = useId();
  const collar = collarPx();
  const bodyPx = Math.max(0, height - collar);
  const surface = collar + bodyPx * (1 - levelFrac);
  const middle = width / 2;
  return (
    <svg class="bottle-drawing" viewBox={`0 0 ${width} ${height}`} width={width} height={height} aria-hidden="true">
      <clipPath id={clip}><path d={outline(width, height, 3)} /></clipPath>
      <path class="bottle-nozzle" d={`M${middle - 11} 9V5Q${middle - 11} 2 ${middle - 8} 2H${middle + 8}Q${middle + 11} 2 ${middle + 11} 5V9`} />
      <path class="bottle-cap" d={`M${middle - 23} ${collar}V15Q${middle - 23} 9 ${middle - 17} 9H${middle + 17}Q${middle + 23} 9 ${middle + 23} 15V${collar}`} />
      <path class="bottle-body" d={outline(width, height, 3)} />
      <g clip-path={`url(#${clip})`}>
        <rect class="liquid" x="0" y={collar} width={width} height={bodyPx} style={{ transform: `translateY(${surface - collar}px)` }} />
      </g>
      {[0.75, 0.5, 0.25].map((level) => {
        const y = collar + bodyPx * (1 - level);
        return <path key={level} class={level < levelFrac ? "graduation graduation-in" : "graduation"} d={`M${4} ${y}H${width - 4}`} />;
      })}
      {Array.from({ length: 15 }, (_, i) => i + 1).filter((i) => i % 4 !== 0).map((i) => {
        const y = collar + (bodyPx * i) / 16;
        return <path key={i} class={1 - i / 16 < levelFrac ? "tick graduation-in" : "tick"} d={`M${width - 4} ${y}h-9`} />;
      })}
      <path class="bottle-outline" d={outline(width, height, 3)} />
    </svg>
  );
}

/** One drawn bottle: tap where the liquid now stands. */
export function Bottle({ cage }: { cage: CageName }) {
  const { ref, size } = useSize();
  const levelFrac = bike.value?.[cage].levelFrac ?? 1;
  const drink = drinkIn(cage);
  const name = drink === null ? "" : `${Math.round((drink.bottle_l ?? 0.5) * 1000)} ${drink.short_name}`;
  return (
    <section class={`bottle bottle-${cage}`} aria-label={t("road.bottle", { cage: t(`cage.${cage}`), drink: drink?.name ?? "", level: quarters(levelFrac) })}>
      <p class="cage" aria-hidden="true"><span>{t(`cage.${cage}`)}</span> <b>{name}</b></p>
      <div class="bottle-place" ref={ref}>
        <Drawing width={size.width} height={size.height} levelFrac={levelFrac} />
        <div class="bands">
          {LEVELS.map((level) => (
            <div key={level} class={level < levelFrac ? "band-row band-wet" : "band-row"}><Band cage={cage} levelFrac={level} /></div>
          ))}
        </div>
      </div>
    </section>
  );
}
