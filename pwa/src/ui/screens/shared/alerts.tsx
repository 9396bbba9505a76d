import { useState } from "preact/hooks";

import { get, post } from "@/sync/api.ts";
import { Button } from "@/ui/parts/button.tsx";
import { isHintSeen, seeHint } from "@/ui/parts/hint.tsx";
import { t } from "@/ui/words.ts";

type State = "on" | "blocked" | "failed" | "off";

const canAlert = (): boolean => "PushManager" in globalThis && "Notification" in globalThis && "serviceWorker" in navigator;

async function subscribe(): Promise<State> {
  if ((await Notification.requestPermission()) !== "granted") return "blocked";
  try {
    const { push_public_key: applicationServerKey } = await get<{ push_public_key: string }>("/api/me");
    const registration = await navigator.serviceWorker.ready;
    const made = await registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey });
    const { endpoint, keys } = made.toJSON();
    await post("/api/push-subscription", { endpoint, keys });
    return "on";
  } catch {
    return "failed";
  }
}

/** Wake-ups are asked for on a tap and carry no name and no value. */
export function Alerts() {
  const [state, setState] = useState<State>("off");
  if (!canAlert()) return null;
  return (
    <section class="group" aria-labelledby="alerts">
      <h2 id="alerts">{t("me.alerts")}</h2>
      <p>{t("me.alertsWhat")}</p>
      {state !== "on" && <div class="acts"><Button onPress={() => void subscribe().then(setState)}>{t("me.alertsAsk")}</Button></div>}
      {state !== "off" && <p role="status">{t(`me.alerts.${state}`)}</p>}
    </section>
  );
}

const HINT = "busAlerts";

/** Asked once where the benefit is plain, after the stage; the browser's own question comes only on a tap. */
export function AskAlerts() {
  const [state, setState] = useState<State>("off");
  if (state !== "off") return <p role="status">{t(`me.alerts.${state}`)}</p>;
  if (!canAlert() || Notification.permission !== "default" || isHintSeen(HINT)) return null;
  const ask = async (): Promise<void> => {
    const found = await subscribe();
    seeHint(HINT);
    setState(found);
  };
  return (
    <aside class="hint" aria-label={t("me.alerts")}>
      <p>{t("bus.alertAsk")}</p>
      <div class="acts">
        <Button onPress={() => void ask()}>{t("bus.alertYes")}</Button>
        <Button kind="quiet" onPress={() => seeHint(HINT)}>{t("bus.alertNo")}</Button>
      </div>
    </aside>
  );
}
