import { decimal, sweatSodium } from "@/core/display.ts";
import type { Rider, RiderProfile } from "@/protocol/records.ts";
import { doc, unsent } from "@/store/state.ts";
import { go, href, route } from "@/ui/route.ts";
import { riders, riderTitle } from "@/ui/screens/staff/look.ts";
import { Flags, Head, NothingYet } from "@/ui/screens/staff/parts.tsx";
import { PocketRuleText } from "@/ui/screens/staff/pocket_rule.tsx";
import { SweatMeter } from "@/ui/screens/staff/sweat_meter.tsx";
import { SweatResult } from "@/ui/screens/staff/sweat_result.tsx";
import { RideForm } from "@/ui/screens/staff/sweat_ride.tsx";
import { SamplesForm } from "@/ui/screens/staff/sweat_samples.tsx";
import { SweatSquad } from "@/ui/screens/staff/sweat_squad.tsx";
import { t } from "@/ui/words.ts";

const SECTIONS = ["test", "squad", "meter", "result"] as const;
type Section = (typeof SECTIONS)[number];

/** Four leaves of one day: the test of a rider, the squad with its clocks, the meter's log, the sheet a rider takes home. */
export function SweatDayScreen() {
  const [name, riderId] = route.value.args;
  const section: Section = SECTIONS.find((one) => one === name) ?? "test";
  const rider = riders.value.find((r) => r.id === riderId) ?? riders.value[0];
  if (rider === undefined) {
    return <main class="sx"><Head title={t("staff.sweat.title")} /><NothingYet /></main>;
  }
  const isPerRider = section === "test" || section === "result";
  return (
    <main class="sx sx-sweat">
      <Head title={t("staff.sweat.title")} said={t(`staff.sweat.intro_${section}`)}>
        {isPerRider && <RiderPicker chosen={rider} section={section} />}
      </Head>
      <nav class="sx-leaves" aria-label={t("staff.sweat.leaves")}>
        {SECTIONS.map((one) => <a key={one} href={href("sweat-day", one, rider.id)} {...(one === section ? { "aria-current": "page" as const } : {})}>{t(`staff.sweat.leaf_${one}`)}</a>)}
      </nav>
      {section === "squad" && <SweatSquad />}
      {section === "meter" && <SweatMeter />}
      {section === "result" && <SweatResult rider={rider} key={rider.id} />}
      {section === "test" && (
        <div class="sx-sweat-columns">
          <SamplesForm rider={rider} key={`samples-${rider.id}`} />
          <RideForm rider={rider} key={`ride-${rider.id}`} />
          <Profile rider={rider} />
        </div>
      )}
    </main>
  );
}

function RiderPicker({ chosen, section }: { chosen: Rider; section: Section }) {
  return (
    <label class="sx-picker">
      <span>{t("staff.rider")}</span>
      <select value={chosen.id} onChange={(event) => go("sweat-day", section, event.currentTarget.value)}>
        {riders.value.map((rider) => <option value={rider.id} key={rider.id}>{riderTitle(rider)}</option>)}
      </select>
    </label>
  );
}

/** What the samples and rides say so far, with their spread, and the rule for the pocket. */
function Profile({ rider }: { rider: Rider }) {
  const profile = doc<RiderProfile>(`profile:${rider.id}`);
  return (
    <section class="sx-panel" aria-labelledby="profile-title">
      <h2 id="profile-title">{t("staff.profile.title", { rider: rider.name })}</h2>
      {profile === null ? <p>{t("staff.profile.none")}</p> : <ProfileFigures profile={profile} />}
      {unsent.value !== null && unsent.value.count > 0 && <p class="sx-quiet" role="status">{t("staff.profile.waits", { n: unsent.value.count })}</p>}
    </section>
  );
}

export function ProfileFigures({ profile }: { profile: RiderProfile }) {
  const log = Math.exp(1.96 * profile.sweat_factor_log_sd);
  const factor = profile.sweat_factor_median;
  const mg = { low: sweatSodium(profile.sodium_low_mmol_per_l), high: sweatSodium(profile.sodium_high_mmol_per_l) };
  return (
    <>
      <h3>{t("staff.profile.sodium")}</h3>
      <p class="sx-big">{sweatSodium(profile.sodium_mean_mmol_per_l)}</p>
      <SodiumRange profile={profile} />
      <p>{t("staff.profile.sodium_range", mg)}</p>
      <p class="sx-quiet">
        {profile.n_sodium_tests === 0
          ? t("staff.profile.sodium_default")
          : t("staff.profile.sodium_from", { n: profile.n_sodium_tests, forearm: sweatSodium(profile.sodium_median_forearm_mmol_per_l) })}
      </p>
      <h3>{t("staff.profile.factor")}</h3>
      <p class="sx-big">× {decimal(factor, 2)}</p>
      <p>{t("staff.profile.factor_range", { low: decimal(factor / log, 2), high: decimal(factor * log, 2) })}</p>
      <p class="sx-quiet">{profile.n_weighed === 0 ? t("staff.profile.factor_default") : t("staff.profile.factor_from", { n: profile.n_weighed })}</p>
      <h3>{t("staff.pocket.title")}</h3>
      {profile.pocket_rule ? <PocketRuleText rule={profile.pocket_rule} /> : <p>{t("staff.pocket.none")}</p>}
      {(profile.flags ?? []).length > 0 && <Flags flags={profile.flags ?? []} />}
    </>
  );
}

const LOW_MMOL = 10;
const HIGH_MMOL = 105;
const WIDTH = 300;

/** The likely range on the span that riders show. */
function SodiumRange({ profile }: { profile: RiderProfile }) {
  const x = (mmol: number): number => 6 + ((Math.min(HIGH_MMOL, Math.max(LOW_MMOL, mmol)) - LOW_MMOL) / (HIGH_MMOL - LOW_MMOL)) * (WIDTH - 12);
  const { sodium_low_mmol_per_l: low, sodium_high_mmol_per_l: high, sodium_mean_mmol_per_l: mean } = profile;
  return (
    <svg class="sx-range" viewBox={`0 0 ${WIDTH} 40`} aria-hidden="true">
      <path class="sx-range-road" d={`M6 12H${WIDTH - 6}`} />
      <path class="sx-range-span" d={`M${x(low)} 12H${x(high)}`} />
      <path class="sx-range-mean" d={`M${x(mean)} 2V22`} />
      <text x="6" y="33">{t("staff.profile.low_end")}</text>
      <text x={WIDTH - 6} y="33" text-anchor="end">{t("staff.profile.high_end")}</text>
    </svg>
  );
}
