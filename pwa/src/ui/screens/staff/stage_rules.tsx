import { useEffect, useState } from "preact/hooks";

import { decimal, stageDay } from "@/core/display.ts";
import { plainForecast } from "@/core/first_steps.ts";
import { checked, type FieldRule } from "@/core/sweat_day.ts";
import type { RaceRole, Stage } from "@/protocol/records.ts";
import { get } from "@/sync/api.ts";
import { problemSentence, saveStage } from "@/ui/screens/staff/acts.ts";
import { canEdit, riders } from "@/ui/screens/staff/look.ts";
import { Answer, NumberField, type Said } from "@/ui/screens/staff/parts.tsx";
import { Choice } from "@/ui/screens/staff/sweat_samples.tsx";
import { t } from "@/ui/words.ts";

export interface PartProps {
  stage: Stage;
  onStage: (stage: Stage) => void;
}

export function useSaving({ stage, onStage }: PartProps): [Said | null, (more: Partial<Stage>) => Promise<boolean>] {
  const [said, setSaid] = useState<Said | null>(null);
  const save = async (more: Partial<Stage>): Promise<boolean> => {
    try {
      onStage(await saveStage({ ...stage, ...more }));
      setSaid({ text: t("staff.book.saved"), isFault: false });
      return true;
    } catch (problem) {
      setSaid({ text: problemSentence(problem), isFault: true });
      return false;
    }
  };
  return [said, save];
}

const KM: FieldRule = { name: "km", unit: "km", low: 0, high: 400, isOptional: true };

/** The rules of the stage's day as the server keeps them by date, with the jury's word on top. */
interface DayRules {
  id: string;
  opens_km: number;
  closes_to_go_km: number;
  by_date_opens_km: number;
  by_date_closes_to_go_km: number;
  ban_before_m: number;
  ban_after_m: number;
  outside: string[];
}

/** Where bottles may change hands on this stage: the rules by date, and what the jury says instead. */
export function RulesPart(props: PartProps) {
  const { stage } = props;
  const [said, save] = useSaving(props);
  const [rules, setRules] = useState<DayRules | null>(null);
  const [opens, setOpens] = useState(textOf(stage.feed_opens_km));
  const [closes, setCloses] = useState(textOf(stage.feed_closes_to_go_km));
  useEffect(() => {
    get<DayRules>(`/api/stages/${stage.id}/rules`).then(setRules, () => setRules(null));
  }, [stage.id, stage.version]);
  const [from, to] = [checked(opens, KM), checked(closes, KM)];
  const keep = async (): Promise<void> => {
    if (from.issue !== null || to.issue !== null) return;
    await save({ feed_opens_km: from.value, feed_closes_to_go_km: to.value });
  };
  const outside = (stage.feed_points ?? []).filter((feed) => rules?.outside.includes(feed.id) === true);
  return (
    <section class="sx-panel" aria-labelledby="rules-title">
      <h2 id="rules-title">{t("staff.rules.title")}</h2>
      {rules === null ? <p>{t("staff.rules.needs_link")}</p> : (
        <p>{t("staff.rules.by_date", { day: stageDay(stage.start_at_ms, stage.time_zone), opens: decimal(rules.by_date_opens_km, 0), closes: decimal(rules.by_date_closes_to_go_km, 0), before: decimal(rules.ban_before_m, 0), after: decimal(rules.ban_after_m, 0) })}</p>
      )}
      <form class="sx-shared" onSubmit={(event) => { event.preventDefault(); void keep(); }}>
        <NumberField id="rule-opens" label={t("staff.rules.opens")} rule={KM} text={opens} onText={setOpens} isShown />
        <NumberField id="rule-closes" label={t("staff.rules.closes")} rule={KM} text={closes} onText={setCloses} isShown />
        {canEdit.value && <button type="submit" class="button button-quiet">{t("staff.rules.keep")}</button>}
      </form>
      {outside.length > 0 && <p class="flag flag-caution">{t("staff.rules.outside", { names: outside.map((feed) => feed.name).join(", ") })}</p>}
      <p class="sx-quiet">{t("staff.rules.source")}</p>
      <Answer said={said} />
    </section>
  );
}

const textOf = (km: number | null | undefined): string => (km === null || km === undefined ? "" : String(km));

const ROLES = ["leader", "domestique", "breakaway", "sprinter"] as const satisfies readonly RaceRole[];

/** What each rider does on this stage: it moves shelter, power and so the loss. */
export function RolesPart(props: PartProps) {
  const { stage } = props;
  const [said, save] = useSaving(props);
  const roles = stage.race_role_by_rider ?? {};
  const pick = (id: string, role: string): void => {
    const { [id]: _, ...others } = roles;
    void save({ race_role_by_rider: role === "" ? others : { ...others, [id]: role as RaceRole } });
  };
  return (
    <section class="sx-panel" aria-labelledby="roles-title">
      <h2 id="roles-title">{t("staff.roles.title")}</h2>
      <div class="sx-shared sx-roles">
        {riders.value.map((rider) => canEdit.value ? (
          <Choice
            key={rider.id} id={`role-${rider.id}`} label={`${rider.race_number} ${rider.name}`} value={roles[rider.id] ?? ""} onPick={(role) => pick(rider.id, role)}
            choices={[["", t("staff.roles.usual", { role: t(`staff.role.${rider.race_role ?? "domestique"}`) })], ...ROLES.map((role) => [role, t(`staff.role.${role}`)] as const)]}
          />
        ) : <p key={rider.id}>{rider.race_number} {rider.name}: {t(`staff.role.${roles[rider.id] ?? rider.race_role ?? "domestique"}`)}</p>)}
      </div>
      <Answer said={said} />
    </section>
  );
}

const WEATHER = {
  startC: { name: "air_temperature_c", unit: "°C", low: -10, high: 50 },
  warmestC: { name: "air_temperature_c", unit: "°C", low: -10, high: 50 },
  humidity: { name: "relative_humidity_frac", unit: "%", low: 5, high: 100 },
  wind: { name: "wind_m_per_s", unit: "m/s", low: 0, high: 35 },
  cloud: { name: "cloud_frac", unit: "%", low: 0, high: 100 },
} as const satisfies Record<string, FieldRule>;
type WeatherName = keyof typeof WEATHER;

/** A forecast by hand: five figures become hourly rows; a table taken in later stands in their place. */
export function ManualForecast(props: PartProps) {
  const { stage } = props;
  const [said, save] = useSaving(props);
  const [typed, setTyped] = useState<Readonly<Record<WeatherName, string>>>({ startC: "", warmestC: "", humidity: "50", wind: "2", cloud: "20" });
  const [isTried, setTried] = useState(false);
  const value = (name: WeatherName): number | null => checked(typed[name], WEATHER[name]).value;
  const keep = async (): Promise<void> => {
    setTried(true);
    const [startC, warmestC, humidity, wind, cloud] = (["startC", "warmestC", "humidity", "wind", "cloud"] as const).map(value);
    if (startC == null || warmestC == null || humidity == null || wind == null || cloud == null) return;
    await save({ forecast: plainForecast(stage.start_at_ms, { startC, warmestC, humidityFrac: humidity / 100, windMPerS: wind, cloudFrac: cloud / 100 }) });
  };
  const labels = { startC: t("staff.start.at_start"), warmestC: t("staff.start.warmest"), humidity: t("staff.start.humidity"), wind: t("staff.start.wind"), cloud: t("staff.start.cloud") };
  return (
    <details>
      <summary>{t("staff.book.by_hand")}</summary>
      <form class="sx-shared" onSubmit={(event) => { event.preventDefault(); void keep(); }}>
        {(Object.keys(WEATHER) as WeatherName[]).map((name) => <NumberField key={name} id={`hand-${name}`} label={labels[name]} rule={WEATHER[name]} text={typed[name]} isShown={isTried} onText={(text) => setTyped({ ...typed, [name]: text })} />)}
        <button type="submit" class="button button-quiet">{t("staff.book.by_hand_keep")}</button>
      </form>
      <Answer said={said} />
    </details>
  );
}
