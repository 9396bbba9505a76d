import { useEffect, useState } from "preact/hooks";

import { hereZone, stageDay, stageTime } from "@/core/display.ts";
import type { Member, Role } from "@/protocol/records.ts";
import { session } from "@/store/state.ts";
import { call, get, post } from "@/sync/api.ts";
import { Button } from "@/ui/parts/button.tsx";
import { keysProblem } from "@/ui/screens/staff/acts.ts";
import { AsideList } from "@/ui/screens/staff/keys_aside.tsx";
import { riders, riderTitle } from "@/ui/screens/staff/look.ts";
import { Head } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

interface Device {
  readonly id: string;
  readonly name: string;
  readonly member_id: string;
  readonly seen_at_ms: number;
  readonly is_revoked: boolean;
  readonly is_this: boolean;
}
interface Invited {
  readonly link: string;
  readonly code: string;
  readonly qr_rows: readonly string[];
  readonly expires_at_ms: number;
}

const STAFF_ROLES: readonly Role[] = ["soigneur", "car", "coach", "physiologist", "doctor", "admin"];
const QUIET_MODULES = 4;

/** Keys: who may come in, by a link, a code to scan or eight signs to type, and which devices are in. */
export function KeysScreen() {
  const [people, setPeople] = useState<readonly Member[]>([]);
  const [devices, setDevices] = useState<readonly Device[]>([]);
  const [invited, setInvited] = useState<Invited | null>(null);
  const [said, setSaid] = useState("");
  const read = async (): Promise<void> => {
    try {
      setPeople(await get<Member[]>("/api/invites"));
      setDevices(await get<Device[]>("/api/team/devices"));
    } catch (problem) {
      setSaid(keysProblem(problem));
    }
  };
  useEffect(() => void read(), []);
  const invite = async (wanted: object): Promise<void> => {
    setSaid("");
    try {
      setInvited(await post<Invited>("/api/invites", wanted));
      await read();
    } catch (problem) {
      setSaid(keysProblem(problem));
    }
  };
  const revoke = async (device: Device): Promise<void> => {
    try {
      const reply = await call("DELETE", `/api/devices/${encodeURIComponent(device.id)}`);
      setSaid(reply.ok ? t("staff.keys.revoked", { name: device.name }) : t("staff.keys.refused", { why: String(reply.status) }));
      await read();
    } catch (problem) {
      setSaid(keysProblem(problem));
    }
  };
  const endAll = async (member: Member): Promise<void> => {
    try {
      const reply = await call("DELETE", `/api/team/members/${encodeURIComponent(member.id)}/devices`);
      setSaid(reply.ok ? t("staff.keys.everywhere_done", { name: member.name }) : t("staff.keys.refused", { why: String(reply.status) }));
      await read();
    } catch (problem) {
      setSaid(keysProblem(problem));
    }
  };
  return (
    <main class="sx sx-ring">
      <Head title={t("staff.keys.title")} said={t("staff.keys.count", { n: devices.filter((one) => !one.is_revoked).length })} />
      <p role="status">{said}</p>
      <div class="sx-ring-new">
        <NewPerson onInvite={(wanted) => void invite(wanted)} />
        {invited !== null && <Invitation invited={invited} />}
      </div>
      <section class="sx-ring-people">
        <h2>{t("staff.keys.people")}</h2>
        {people.map((member) => (
          <Person
            key={member.id} member={member} devices={devices.filter((one) => one.member_id === member.id)}
            onInvite={() => void invite({ member_id: member.id })} onRevoke={(device) => void revoke(device)}
            onEndAll={() => void endAll(member)}
          />
        ))}
      </section>
      {session.value?.member.role === "admin" && <AsideList people={people} />}
    </main>
  );
}

function Invitation({ invited }: { invited: Invited }) {
  const side = invited.qr_rows.length + 2 * QUIET_MODULES;
  const path = invited.qr_rows.flatMap((row, y) => [...row].map((cell, x) => (cell === "1" ? `M${x + QUIET_MODULES} ${y + QUIET_MODULES}h1v1h-1z` : ""))).join("");
  return (
    <section class="sx-panel" aria-labelledby="invitation">
      <h2 id="invitation">{t("staff.keys.invitation")}</h2>
      <svg viewBox={`0 0 ${side} ${side}`} width="232" height="232" shape-rendering="crispEdges" role="img" aria-label={t("staff.keys.qr")}>
        <rect width={side} height={side} fill="#fff" />
        <path d={path} fill="#000" />
      </svg>
      <p>{t("staff.keys.code")} <b class="big">{invited.code}</b></p>
      <p class="sx-quiet">{invited.link}</p>
      <p>{t("staff.keys.until", { time: `${stageDay(invited.expires_at_ms, hereZone())} ${stageTime(invited.expires_at_ms, hereZone())}` })}</p>
    </section>
  );
}

function NewPerson({ onInvite }: { onInvite: (wanted: object) => void }) {
  const [role, setRole] = useState<Role>("soigneur");
  const [name, setName] = useState("");
  const [riderId, setRiderId] = useState("");
  const isRider = role === "rider";
  const chosen = riderId || (riders.value[0]?.id ?? "");
  const send = (): void => onInvite(isRider ? { role, rider_id: chosen } : { role, name: name.trim() });
  return (
    <section class="sx-panel">
      <h2>{t("staff.keys.invite")}</h2>
      <label class="sx-picker">
        <span>{t("staff.keys.role")}</span>
        <select value={role} onChange={(event) => setRole(event.currentTarget.value as Role)}>
          {(["rider", ...STAFF_ROLES] as const).map((one) => <option key={one} value={one}>{t(`role.${one}`)}</option>)}
        </select>
      </label>
      {isRider
        ? <label class="sx-picker"><span>{t("staff.rider")}</span><select value={chosen} onChange={(event) => setRiderId(event.currentTarget.value)}>{riders.value.map((one) => <option key={one.id} value={one.id}>{riderTitle(one)}</option>)}</select></label>
        : <div class="sx-field"><label for="key-name">{t("staff.keys.name")}</label><input id="key-name" autocomplete="off" value={name} maxLength={80} onInput={(event) => setName(event.currentTarget.value)} /></div>}
      <Button kind="act" isDisabled={isRider ? chosen === "" : name.trim() === ""} onPress={send}>{t("staff.keys.make")}</Button>
    </section>
  );
}

interface PersonProps {
  member: Member;
  devices: readonly Device[];
  onInvite: () => void;
  onRevoke: (device: Device) => void;
  onEndAll: () => void;
}

/** From two devices on that could be ended, one act ends them all. */
function Everywhere({ name, onEndAll }: { name: string; onEndAll: () => void }) {
  const [isAsked, setAsked] = useState(false);
  return isAsked
    ? <Button onPress={() => { setAsked(false); onEndAll(); }}>{t("staff.keys.everywhere_sure", { name })}</Button>
    : <Button kind="quiet" label={t("staff.keys.everywhere_who", { name })} onPress={() => setAsked(true)}>{t("staff.keys.everywhere")}</Button>;
}

function Person({ member, devices, onInvite, onRevoke, onEndAll }: PersonProps) {
  const [asked, setAsked] = useState("");
  return (
    <div class="sx-ring-person" role="group" aria-label={member.name}>
      <h3>{member.name} <small>{t(`role.${member.role}`)}</small></h3>
      <ul class="sx-plain">
        {devices.map((device) => (
          <li key={device.id}>
            <span><b>{device.name}</b>{" "}
            {device.is_revoked ? t("staff.keys.is_out") : device.is_this ? t("staff.keys.here") : t("staff.keys.seen", { day: stageDay(device.seen_at_ms, hereZone()) })}</span>
            {!device.is_revoked && !device.is_this && (asked === device.id
              ? <Button onPress={() => { setAsked(""); onRevoke(device); }}>{t("staff.keys.sure", { name: device.name })}</Button>
              : <Button kind="quiet" label={t("staff.keys.out_who", { name: `${member.name}, ${device.name}` })} onPress={() => setAsked(device.id)}>{t("staff.keys.out")}</Button>)}
          </li>
        ))}
      </ul>
      {member.id !== session.value?.member.id && devices.every((one) => one.is_revoked) && <p class="sx-quiet">{t("staff.keys.none")}</p>}
      <div class="sx-line">
        <Button kind="quiet" label={t("staff.keys.again_who", { name: member.name })} onPress={onInvite}>{t("staff.keys.again")}</Button>
        {devices.filter((one) => !one.is_revoked && !one.is_this).length > 1 && <Everywhere name={member.name} onEndAll={onEndAll} />}
      </div>
    </div>
  );
}
