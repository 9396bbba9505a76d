/** Chooses the screen for the route. */

import { useErrorBoundary } from "preact/hooks";

import type { Role } from "@/protocol/records.ts";
import { isAsked } from "@/store/held.ts";
import { isReady, session, updateReady } from "@/store/state.ts";
import { mayTakeUpdate, takeUpdate } from "@/sync/worker.ts";
import { band, isFailed, screenOf, want } from "@/ui/chunks.ts";
import { InstallHint } from "@/ui/install.tsx";
import { mayOpen, Nav, pageOf, STOPS } from "@/ui/nav.tsx";
import { Button } from "@/ui/parts/button.tsx";
import { LinkLine } from "@/ui/parts/link_line.tsx";
import { href, route } from "@/ui/route.ts";
import { t } from "@/ui/words.ts";

/** A page whose chunk may still be on its way; offline and not on this phone yet, it says so and can be asked again. */
function Page({ name }: { name: string }) {
  const Found = screenOf(name);
  if (Found !== undefined) return <Found />;
  if (!isFailed.value) return <main class="page"><p role="status">{t("app.opening")}</p></main>;
  return (
    <main class="page">
      <p role="alert">{t("app.notHereYet")}</p>
      <div class="acts"><Button kind="act" onPress={() => want(name)}>{t("app.reload")}</Button></div>
    </main>
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
  return <Page name={name} />;
}

/** Where nobody is at work with both hands: the offer to keep the app waits for one of these. */
const CALM: ReadonlySet<string> = new Set(["bus", "weeks", "me", "desk"]);

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
  const isAsking = isAsked.value && route.value.name !== "join";
  if (isAsking && session.value === null) return <Page name="hold" />;
  if (!isReady.value && !isAsked.value) return <main class="page"><p role="status">{t("app.opening")}</p></main>;
  const role = session.value?.member.role;
  if (role === undefined || route.value.name === "join") return <Page name="join" />;
  const isRoad = pageOf(role) === "road";
  const Band = band.value;
  // While it is asked who holds the phone, the page stays as it was, out of sight: whoever was typing finds it again.
  return (
    <>
      {isAsking && <Page name="hold" />}
      <div hidden={isAsking}>
        <div class={isRoad ? "shell shell-road" : "shell"} data-role={role}>
          {Band !== null && <Band />}
          {!isRoad && <header class="top"><LinkLine /></header>}
          <UpdateLine />
          {CALM.has(pageOf(role)) && <InstallHint />}
          <Screen role={role} />
          <Nav role={role} />
        </div>
      </div>
    </>
  );
}
