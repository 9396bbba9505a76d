import { session } from "@/store/state.ts";
import { mayOpen } from "@/ui/nav.tsx";
import { href } from "@/ui/route.ts";
import { canEdit, raced, riders } from "@/ui/screens/staff/look.ts";
import { Head } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const PLACES = [
  ["weigh-room", "weigh"], ["sweat-day", "sweat"], ["race-book", "book"], ["rides", "rides"], ["season", "season"], ["drinks", "drinks"], ["coolbox", "coolbox"],
  ["files", "files"], ["slate", "slate"], ["start", "start"], ["keys", "keys"],
] as const;

/** The desk's own page: every other place, and what it is for. */
export function DeskScreen() {
  const role = session.value?.member.role ?? "coach";
  const isNew = canEdit.value && (riders.value.length === 0 || raced.value.length === 0);
  return (
    <main class="sx sx-desk">
      <Head title={t("staff.desk.title")} said={session.value?.team.name ?? ""} />
      {isNew && <p class="sx-lead"><a class="button button-act" href={href("start")}>{t("staff.desk.begin")}</a></p>}
      <ul class="sx-places">
        {PLACES.filter(([name]) => mayOpen(role, name)).map(([name, key]) => (
          <li key={name}><a href={href(name)}><b>{t(`staff.desk.${key}`)}</b><span>{t(`staff.desk.${key}_what`)}</span></a></li>
        ))}
      </ul>
      <h2>{t("staff.desk.riders")}</h2>
      <ul class="sx-places sx-places-small">
        {riders.value.map((rider) => <li key={rider.id}><a href={href("rider", rider.id)}><b>{rider.race_number}</b><span>{rider.name}</span></a></li>)}
      </ul>
    </main>
  );
}
