import { useEffect, useState } from "preact/hooks";

import { momentHere, toldApart } from "@/core/here.ts";
import { call, get } from "@/sync/api.ts";
import { Sure, useSaid } from "@/ui/parts/sure.tsx";
import { t } from "@/ui/words.ts";

interface OwnDevice {
  readonly id: string;
  readonly name: string;
  readonly seen_at_ms: number;
  readonly joined_at_ms: number;
  readonly is_this: boolean;
}

const NEW_FOR_MS = 14 * 86_400_000;
/** Somebody else may have come in by one's name: it is said on one's other devices for two weeks. */
const isNew = (device: OwnDevice): boolean => !device.is_this && Date.now() - device.joined_at_ms < NEW_FOR_MS;

async function signOut(device: OwnDevice): Promise<void> {
  const reply = await call("DELETE", `/api/devices/${encodeURIComponent(device.id)}`);
  if (!reply.ok) throw new Error(String(reply.status));
}

function Line({ device, name, onOut }: { device: OwnDevice; name: string; onOut: () => void }) {
  return (
    <li class="fact">
      <span class="fact-said">
        <b>{name}</b>
        {isNew(device) && <small class="flag flag-caution">{t("me.deviceNew", { day: momentHere(device.joined_at_ms) })}</small>}
        <small>{device.is_this ? t("me.deviceHere") : t("me.deviceSeen", { day: momentHere(device.seen_at_ms) })}</small>
      </span>
      {!device.is_this && <Sure kind="quiet" label={t("me.deviceOutWho", { name })} sure={t("me.deviceSure", { name })} onSure={onOut}>{t("me.deviceOut")}</Sure>}
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
  const out = async (device: OwnDevice, name: string): Promise<void> => {
    try {
      await signOut(device);
      setDevices((devices ?? []).filter((one) => one.id !== device.id));
      setSaid(t("me.deviceGone", { name }));
      read();
    } catch {
      setSaid(t("me.deviceStays", { name }));
    }
  };
  const names = toldApart((devices ?? []).map((one) => one.name));
  const told = useSaid(said);
  return (
    <section class="group" aria-labelledby="devices">
      <h2 id="devices">{t("me.devices")}</h2>
      <p>{t("me.devicesWhat")}</p>
      {devices !== null && <ul class="rows">{devices.map((device, i) => <Line key={device.id} device={device} name={names[i] ?? ""} onOut={() => void out(device, names[i] ?? "")} />)}</ul>}
      <p role="status" tabIndex={-1} ref={told}>{said}</p>
    </section>
  );
}
