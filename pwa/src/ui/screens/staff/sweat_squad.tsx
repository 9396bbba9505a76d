import { signal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";

import { decimal, stageDay, stageTime } from "@/core/display.ts";
import { timerMinutes, type Timer } from "@/core/sweat_day.ts";
import { instantOf } from "@/core/zone.ts";
import type { CollectionBookedBody, FactEvent, Rider } from "@/protocol/records.ts";
import { append, takeBack } from "@/store/commands.ts";
import { folded, session } from "@/store/state.ts";
import { Button } from "@/ui/parts/button.tsx";
import { href } from "@/ui/route.ts";
import { canEdit, riders, riderTitle } from "@/ui/screens/staff/look.ts";
import { t } from "@/ui/words.ts";

const KEY = "sweat-day-timers";
const NO_TIMER: Timer = { effortMs: null, onMs: null, offMs: null };

/** Running clocks of this device: they outlive a reload, and are no facts until the sample is kept. */
export const timers = signal<Readonly<Record<string, Timer>>>(readTimers());

function readTimers(): Record<string, Timer> {
  try {
    const kept = JSON.parse(localStorage.getItem(KEY) ?? "{}") as Record<string, Timer>;
    return typeof kept === "object" && kept !== null ? kept : {};
  } catch {
    return {};
  }
}

export function setTimer(riderId: string, timer: Timer | null): void {
  const next = { ...timers.value };
  if (timer === null) delete next[riderId];
  else next[riderId] = timer;
  timers.value = next;
  localStorage.setItem(KEY, JSON.stringify(next));
}

export const timerOf = (riderId: string): Timer => timers.value[riderId] ?? NO_TIMER;

function bookings(): FactEvent<CollectionBookedBody>[] {
  const found = [...folded.value.live.values()].filter((event) => event.kind === "collection_booked") as FactEvent<CollectionBookedBody>[];
  return found.sort((a, b) => a.body.on_ms - b.body.on_ms);
}

const zone = (): string => session.value?.team.time_zone ?? "Europe/Paris";

/** The squad on its sweat day: who is booked when, and a clock for each rider. */
export function SweatSquad() {
  const [nowMs, setNow] = useState(Date.now());
  useEffect(() => {
    const timer = setInterval(() => setNow(Date.now()), 1000);
    return () => clearInterval(timer);
  }, []);
  const booked = bookings();
  return (
    <>
      <section class="sx-panel" aria-labelledby="book-title">
        <h2 id="book-title">{t("staff.squad.book")}</h2>
        {canEdit.value && <BookForm />}
        {booked.length === 0 ? <p>{t("staff.squad.none")}</p> : (
          <ul class="rows">{booked.map((event) => <BookedLine key={event.id} event={event} />)}</ul>
        )}
      </section>
      <section class="sx-panel" aria-labelledby="clocks-title">
        <h2 id="clocks-title">{t("staff.squad.clocks")}</h2>
        <p class="sx-quiet">{t("staff.squad.clocks_what")}</p>
        <ul class="sx-clocks">{riders.value.map((rider) => <Clock key={rider.id} rider={rider} nowMs={nowMs} />)}</ul>
      </section>
    </>
  );
}

function BookForm() {
  const [day, setDay] = useState("");
  const [time, setTime] = useState("09:00");
  const [place, setPlace] = useState("");
  const [chosen, setChosen] = useState<ReadonlySet<string>>(new Set(riders.value.map((rider) => rider.id)));
  const [fault, setFault] = useState("");
  const book = async (): Promise<void> => {
    const onMs = instantOf(`${day}T${time}`, zone());
    if (onMs === null || chosen.size === 0) {
      setFault(onMs === null ? t("staff.squad.no_day", { typed: `${day} ${time}`.trim() }) : t("staff.squad.nobody"));
      return;
    }
    const team = session.value?.team.id ?? "";
    await append("collection_booked", team, { on_ms: onMs, rider_ids: [...chosen].sort(), ...(place.trim() === "" ? {} : { place: place.trim() }) });
    setFault("");
    setDay("");
  };
  const toggle = (id: string): void => {
    const next = new Set(chosen);
    if (!next.delete(id)) next.add(id);
    setChosen(next);
  };
  return (
    <form class="sx-line" onSubmit={(event) => { event.preventDefault(); void book(); }}>
      <span class="sx-field"><label for="book-day">{t("staff.squad.day")}</label><input id="book-day" type="date" value={day} onInput={(event) => setDay(event.currentTarget.value)} /></span>
      <span class="sx-field"><label for="book-time">{t("staff.squad.time")}</label><input id="book-time" value={time} maxLength={5} onInput={(event) => setTime(event.currentTarget.value)} /></span>
      <span class="sx-field"><label for="book-place">{t("staff.squad.place")}</label><input id="book-place" value={place} maxLength={80} onInput={(event) => setPlace(event.currentTarget.value)} /></span>
      <fieldset class="sx-chips">
        <legend class="hidden">{t("staff.squad.who")}</legend>
        {riders.value.map((rider) => (
          <label key={rider.id} class={chosen.has(rider.id) ? "sx-chip sx-chip-on" : "sx-chip"}>
            <input type="checkbox" checked={chosen.has(rider.id)} onChange={() => toggle(rider.id)} />{rider.race_number}<span class="hidden"> {rider.name}</span>
          </label>
        ))}
      </fieldset>
      <button type="submit" class="button button-quiet">{t("staff.squad.book_it")}</button>
      {fault !== "" && <p class="sx-issue" role="alert">{fault}</p>}
    </form>
  );
}

function BookedLine({ event }: { event: FactEvent<CollectionBookedBody> }) {
  const { on_ms: onMs, place, rider_ids: ids } = event.body;
  const numbers = ids.map((id) => riders.value.find((rider) => rider.id === id)?.race_number ?? "?").join(", ");
  return (
    <li class="sx-event">
      <span><b>{stageDay(onMs, zone())} {stageTime(onMs, zone())}</b> {place ?? ""} · {t("staff.squad.riders", { numbers })}</span>
      {canEdit.value && <Button kind="quiet" onPress={() => void takeBack(event)}>{t("staff.squad.cancel")}</Button>}
    </li>
  );
}

/** Effort, collector on, collector off: three taps, whose times go into the form by themselves. */
function Clock({ rider, nowMs }: { rider: Rider; nowMs: number }) {
  const timer = timerOf(rider.id);
  const { startedAfterMin, collectedMin } = timerMinutes(timer);
  const running = timer.offMs !== null ? null : (timer.onMs ?? timer.effortMs);
  const stamp = (more: Partial<Timer>): void => setTimer(rider.id, { ...timer, ...more });
  const label = (what: string): string => `${what}: ${riderTitle(rider)}`;
  return (
    <li class="sx-clock">
      <h3><span class="sx-no">{rider.race_number}</span> {rider.name}</h3>
      <p class="sx-clock-figure" role="timer">{running === null ? (collectedMin === null ? "0:00" : `${decimal(collectedMin, 1)} min`) : elapsed(nowMs - running)}</p>
      <p class="sx-quiet">
        {timer.effortMs === null ? t("staff.squad.not_begun") : timer.onMs === null ? t("staff.squad.warming")
          : timer.offMs === null ? t("staff.squad.collecting", { min: decimal(startedAfterMin ?? 0, 1) })
            : t("staff.squad.collected", { min: decimal(collectedMin ?? 0, 1), after: decimal(startedAfterMin ?? 0, 1) })}
      </p>
      <span class="sx-line">
        {timer.effortMs === null && <Button kind="quiet" label={label(t("staff.squad.effort"))} onPress={() => stamp({ effortMs: Date.now() })}>{t("staff.squad.effort")}</Button>}
        {timer.effortMs !== null && timer.onMs === null && <Button kind="quiet" label={label(t("staff.squad.on"))} onPress={() => stamp({ onMs: Date.now() })}>{t("staff.squad.on")}</Button>}
        {timer.onMs !== null && timer.offMs === null && <Button kind="quiet" label={label(t("staff.squad.off"))} onPress={() => stamp({ offMs: Date.now() })}>{t("staff.squad.off")}</Button>}
        {timer.offMs !== null && <a class="button button-quiet" href={href("sweat-day", "test", rider.id)}>{t("staff.squad.enter")}</a>}
        {timer.effortMs !== null && <Button kind="quiet" label={label(t("staff.squad.clear"))} onPress={() => setTimer(rider.id, null)}>{t("staff.squad.clear")}</Button>}
      </span>
    </li>
  );
}

function elapsed(ms: number): string {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}
