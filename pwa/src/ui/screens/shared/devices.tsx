import { useEffect, useState } from "preact/hooks";

import { hereZone, stageDay } from "@/core/display.ts";
import { call, get } from "@/sync/api.ts";
import { Button } from "@/ui/parts/button.tsx";
import { t } from "@/ui/words.ts";

interface OwnDevice {
  readonly id: string;
  readonly name: string;
  readonly seen_at_ms: number;
  readonly is_this: boolean;
}

async function signOut(device: OwnDevice): Promise<void> {
  const reply = await call("DELETE", `/api/devices/${encodeURIComponent(device.id)}`);
  if (!reply.ok) throw new Error(String(reply.status));
}

function Line({ device, onOut }: { device: OwnDevice; onOut: (device: OwnDevice) => void }) {
  const [isAsked, setAsked] = useState(false);
  return (
    <li class="fact">
      <span class="fact-said">
        <b>{device.name}</b>
        <small>{device.is_this ? t("me.deviceHere") : t("me.deviceSeen", { day: stageDay(device.seen_at_ms, hereZone()) })}</small>
      </span>
      {!device.is_this && !isAsked && <Button kind="quiet" label={t("me.deviceOutWho", { name: device.name })} onPress={() => setAsked(true)}>{t("me.deviceOut")}</Button>}
      {isAsked && (
        <span class="acts">
          <Button onPress={() => onOut(device)}>{t("me.deviceSure", { name: device.name })}</Button>
          <Button kind="quiet" onPress={() => setAsked(false)}>{t("me.deviceKeep")}</Button>
        </span>
      )}
    </li>
  );
}

/** Where this person is signed in; a lost one is signed out from here. It needs the network, since the server alone knows. */
export function Devices() {
  const [devices, setDevices] = useState<readonly OwnDevice[] | null>(null);
  const [said, setSaid] = useState("");
  const read = (): void => {
    get<OwnDevice[]>("/api/devices").then(setDevices, () => setSaid(t("me.devicesOffline")));
  };
  useEffect(read, []);
  const out = async (device: OwnDevice): Promise<void> => {
    try {
      await signOut(device);
      setSaid(t("me.deviceGone", { name: device.name }));
      read();
    } catch {
      setSaid(t("me.deviceStays", { name: device.name }));
    }
  };
  return (
    <section class="group" aria-labelledby="devices">
      <h2 id="devices">{t("me.devices")}</h2>
      <p>{t("me.devicesWhat")}</p>
      {devices !== null && <ul class="rows">{devices.map((device) => <Line key={device.id} device={device} onOut={(one) => void out(one)} />)}</ul>}
      <p role="status">{said}</p>
    </section>
  );
}
