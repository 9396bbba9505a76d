import { useState } from "preact/hooks";

import { get, post } from "@/sync/api.ts";
import { Button } from "@/ui/parts/button.tsx";
import { t } from "@/ui/words.ts";

const canAlert = (): boolean => "PushManager" in globalThis && "Notification" in globalThis && "serviceWorker" in navigator;

async function subscribe(): Promise<"on" | "blocked" | "failed"> {
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
  const [state, setState] = useState<"on" | "blocked" | "failed" | "off">("off");
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
