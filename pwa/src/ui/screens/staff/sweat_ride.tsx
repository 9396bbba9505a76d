import { useState } from "preact/hooks";

import { decimal, litres } from "@/core/display.ts";
import { checked, massLost, RIDE_FIELDS } from "@/core/sweat_day.ts";
import type { Rider, WeighedRideBody } from "@/protocol/records.ts";
import { keepRide } from "@/ui/screens/staff/acts.ts";
import { NumberField } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

type Name = keyof typeof RIDE_FIELDS;
type Typed = Record<Name, string>;
const NAMES = Object.keys(RIDE_FIELDS) as Name[];
const EMPTY = Object.fromEntries(NAMES.map((name) => [name, ""])) as Typed;
const GROUPS: readonly (readonly [string, readonly Name[]])[] = [
  ["scales", ["before", "after", "drunk", "food", "urine"]],
  ["effort", ["duration", "power"]],
  ["weather", ["temperature", "humidity", "airSpeed", "sun"]],
];

/** A ride of an hour or more between two weighings. */
export function RideForm({ rider }: { rider: Rider }) {
  const [typed, setTyped] = useState<Typed>(EMPTY);
  const [isTried, setTried] = useState(false);
  const [said, setSaid] = useState("");
  const keep = async (): Promise<void> => {
    setTried(true);
    const body = rideOf(typed);
    if (body === null) {
      setSaid(t("staff.sweat.not_kept"));
      return;
    }
    await keepRide(rider.id, body, Date.now());
    setTyped(EMPTY);
    setTried(false);
    setSaid(t("staff.sweat.ride_kept"));
  };
  return (
    <form class="sx-panel" aria-labelledby="ride-title" onSubmit={(event) => { event.preventDefault(); void keep(); }}>
      <h2 id="ride-title">{t("staff.sweat.ride")}</h2>
      {GROUPS.map(([group, names]) => (
        <fieldset key={group} class="sx-shared">
          <legend>{t(`staff.sweat.${group}` as "staff.sweat.scales")}</legend>
          {names.map((name) => (
            <NumberField
              key={name} id={`ride-${name}`} label={t(`staff.field.${RIDE_FIELDS[name].name}` as "staff.field.power_w")}
              rule={RIDE_FIELDS[name]} text={typed[name]} isShown={isTried}
              onText={(text) => { setTyped({ ...typed, [name]: text }); setSaid(""); }}
            />
          ))}
        </fieldset>
      ))}
      <Lost typed={typed} />
      <button type="submit" class="button button-quiet button-act">{t("staff.sweat.keep_ride")}</button>
      <p role="status" class="sx-said">{said}</p>
    </form>
  );
}

const valueOf = (typed: Typed, name: Name): number | null => checked(typed[name], RIDE_FIELDS[name]).value;

function rideOf(typed: Typed): WeighedRideBody | null {
  if (NAMES.some((name) => checked(typed[name], RIDE_FIELDS[name]).issue !== null)) return null;
  const of = (name: Name): number => valueOf(typed, name) ?? 0;
  return {
    mass_before_kg: of("before"), mass_after_kg: of("after"), fluid_drunk_l: of("drunk"), food_kg: of("food"),
    urine_l: of("urine"), duration_h: of("duration"), power_w: of("power"), air_temperature_c: of("temperature"),
    relative_humidity_frac: of("humidity") / 100, air_speed_m_per_s: of("airSpeed"), solar_w_per_m2: of("sun"),
  };
}

/** What the scales say so far, as soon as they can say it. */
function Lost({ typed }: { typed: Typed }) {
  const [beforeKg, afterKg, drunkL, durationH] = (["before", "after", "drunk", "duration"] as const).map((n) => valueOf(typed, n));
  if (beforeKg == null || afterKg == null || drunkL == null || durationH == null) return null;
  const ride = { beforeKg, afterKg, drunkL, durationH, foodKg: valueOf(typed, "food") ?? 0, urineL: valueOf(typed, "urine") ?? 0 };
  const { lostL, rateLPerH } = massLost(ride);
  if (lostL <= 0) return <p class="flag flag-stop" role="status">{t("staff.sweat.gained")}</p>;
  return <p class="sx-rule" role="status">{t("staff.sweat.lost", { l: litres(lostL), rate: decimal(rateLPerH, 2) })}</p>;
}
