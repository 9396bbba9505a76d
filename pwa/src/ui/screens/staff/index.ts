import "@/ui/screens/staff/staff.css";
import "@/ui/screens/staff/figures.css";
import "@/ui/screens/staff/pantry.css";
import "@/ui/screens/staff/settle.css";
import "@/ui/screens/staff/watch.css";

import { covered } from "@/ui/screens/staff/cover.tsx";
import { DeskScreen } from "@/ui/screens/staff/desk.tsx";
import { DrinksScreen } from "@/ui/screens/staff/drinks.tsx";
import { FilesScreen } from "@/ui/screens/staff/files.tsx";
import { KeysScreen } from "@/ui/screens/staff/keys.tsx";
import { PlansScreen } from "@/ui/screens/staff/plans.tsx";
import { RaceBookScreen } from "@/ui/screens/staff/race_book.tsx";
import { RiderScreen } from "@/ui/screens/staff/rider_page.tsx";
import { SeasonScreen } from "@/ui/screens/staff/season.tsx";
import { SettleScreen } from "@/ui/screens/staff/settle.tsx";
import { SweatDayScreen } from "@/ui/screens/staff/sweat_day.tsx";
import { StartScreen } from "@/ui/screens/staff/start.tsx";
import { ThreeWeeksScreen } from "@/ui/screens/staff/three_weeks.tsx";
import { WatchScreen } from "@/ui/screens/staff/watch.tsx";

/** One chunk for all staff screens, by the name of their route; those with figures of bodies are covered when nobody is there. */
export const routes = {
  settle: covered(SettleScreen),
  plans: covered(PlansScreen),
  drinks: DrinksScreen,
  "three-weeks": covered(ThreeWeeksScreen),
  "sweat-day": covered(SweatDayScreen),
  "race-book": RaceBookScreen,
  watch: covered(WatchScreen),
  desk: covered(DeskScreen),
  rider: covered(RiderScreen),
  season: covered(SeasonScreen),
  start: StartScreen,
  keys: KeysScreen,
  files: covered(FilesScreen),
};
