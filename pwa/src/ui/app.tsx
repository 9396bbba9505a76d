/** Chooses the screen for the route; staff screens come as one chunk, when a staff role first needs them. */

import { signal } from "@preact/signals";
import type { ComponentType } from "preact";
import { useErrorBoundary } from "preact/hooks";

import type { Role } from "@/protocol/records.ts";
import { isReady, session, updateReady } from "@/store/state.ts";
import { mayTakeUpdate, takeUpdate } from "@/sync/worker.ts";
import { mayOpen, Nav, pageOf, STOPS } from "@/ui/nav.tsx";
import { Button } from "@/ui/parts/button.tsx";
import { LinkLine } from "@/ui/parts/link_line.tsx";
import { href, route } from "@/ui/route.ts";
import { Join } from "@/ui/screens/shared/join.tsx";
import { t, wantWords } from "@/ui/words.ts";

type Routes = Record<string, ComponentType>;

const RIDER_PAGES: ReadonlySet<string> = new Set(["road", "bus", "weeks"]);
const CREW_PAGES: ReadonlySet<string> = new Set(["hand-up", "returns", "slate", "weigh-room"]);
const screens = signal<Readonly<Routes>>({});
const chunkFailed = signal(false);
const asked = new Set<string>();

async function staffRoutes(): Promise<Routes> {
  const [chunk] = await Promise.all([import("@/ui/screens/staff/index.ts"), wantWords("story", "staff")]);
  return chunk.routes;
}

async function crewRoutes(): Promise<Routes> {
  const [chunk] = await Promise.all([import("@/ui/screens/shared/crew.ts"), wantWords("story", "crew")]);
  return chunk.routes;
}

const CHUNKS: Readonly<Record<string, () => Promise<Routes>>> = {
  rider: async () => {
    const [chunk] = await Promise.all([import("@/ui/screens/rider/index.ts"), wantWords("story")]);
    return chunk.routes;
  },
  crew: crewRoutes,
  me: async () => (await import("@/ui/screens/shared/me.tsx")).routes,
  staff: staffRoutes,
};

function chunkOf(name: string): string {
  if (name === "me") return "me";
  if (RIDER_PAGES.has(name)) return "rider";
  return CREW_PAGES.has(name) ? "crew" : "staff";
}

function want(chunk: string): void {
  if (asked.has(chunk)) return;
  asked.add(chunk);
  CHUNKS[chunk]?.().then(
    (found) => {
      screens.value = { ...screens.value, ...found };
    },
    () => {
      asked.delete(chunk);
      chunkFailed.value = true;
    },
  );
}

function Lost({ role }: { role: Role }) {
  return (
    <main class="page">
      <h1>{t("app.notHere")}</h1>
      <p><a class="button button-act" href={href(STOPS[role][0]?.[0] ?? "me")}>{t("app.goBack")}</a></p>
    </main>
  );
}

function Screen({ role }: { role: Role }) {
  const name = pageOf(role);
  if (!mayOpen(role, name)) return <Lost role={role} />;
  const Found = screens.value[name];
  if (Found !== undefined) return <Found />;
  want(chunkOf(name));
  return <main class="page"><p role="status">{chunkFailed.value ? t("app.broken") : t("app.opening")}</p></main>;
}

function UpdateLine() {
  if (!updateReady.value || !mayTakeUpdate()) return null;
  return <p class="update-line">{t("app.newVersion")} <Button kind="quiet" onPress={takeUpdate}>{t("app.take")}</Button></p>;
}

export function App() {
  const [problem] = useErrorBoundary((error) => console.error(error));
  if (problem) {
    return (
      <main class="page">
        <h1>{t("app.broken")}</h1>
        <Button kind="act" onPress={() => location.reload()}>{t("app.reload")}</Button>
      </main>
    );
  }
  if (!isReady.value) return <main class="page"><p role="status">{t("app.opening")}</p></main>;
  const role = session.value?.member.role;
  if (role === undefined || route.value.name === "join") return <Join />;
  const isRoad = pageOf(role) === "road";
  return (
    <div class={isRoad ? "shell shell-road" : "shell"} data-role={role}>
      {!isRoad && <header class="top"><LinkLine /></header>}
      <UpdateLine />
      <Screen role={role} />
      <Nav role={role} />
    </div>
  );
}
