import { useEffect, useRef, useState } from "preact/hooks";

import { byName } from "@/core/display.ts";
import { momentHere, toldApart } from "@/core/here.ts";
import type { Member, Role } from "@/protocol/records.ts";
import { session } from "@/store/state.ts";
import { call, get, post } from "@/sync/api.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Sure, useSaid } from "@/ui/parts/sure.tsx";
import { keysProblem } from "@/ui/screens/staff/acts.ts";
import { AsideList } from "@/ui/screens/staff/keys_aside.tsx";
import { href } from "@/ui/route.ts";
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
/** Brought in by an admin alone. */
const GUARDED: ReadonlySet<Role> = new Set(["doctor", "admin"]);
const mayInvite = (role: Role): boolean => session.value?.member.role === "admin" || !GUARDED.has(role);
const QUIET_MODULES = 4;

/** Whom an invitation is for, as the screen calls him. */
interface Invitation {
  readonly invited: Invited;
  readonly name: string;
  readonly role: Role;
}
type InviteOf = (wanted: object, name: string, role: Role) => Promise<boolean>;

/** Keys: who may come in, by a link, a code to scan or eight signs to type, and which devices are in. */
export function KeysScreen() {
  const [people, setPeople] = useState<readonly Member[]>([]);
  const [devices, setDevices] = useState<readonly Device[]>([]);
  const [invitation, setInvitation] = useState<Invitation | null>(null);
  const [said, setSaid] = useState<{ about: string; text: string }>({ about: "", text: "" });
  const opener = useRef<Element | null>(null);
  const read = async (): Promise<void> => {
    setPeople([...await get<Member[]>("/api/invites")].sort((a, b) => byName(a.name, b.name)));
    setDevices(await get<Device[]>("/api/team/devices"));
  };
  /** Do one thing, read the list again, then say beside the person how it went. */
  const run = async (about: string, act: () => Promise<string>): Promise<boolean> => {
    try {
      const text = await act();
      await read();
      setSaid({ about, text });
      return true;
    } catch (problem) {
      setSaid({ about, text: keysProblem(problem) });
      return false;
    }
  };
  useEffect(() => void run("", () => Promise.resolve("")), []);
  const invite = (wanted: object, name: string, role: Role, about = ""): Promise<boolean> => {
    opener.current = document.activeElement;
    return run(about, async () => {
      setInvitation({ invited: await post<Invited>("/api/invites", wanted), name, role });
      return "";
    });
  };
  const end = async (path: string, done: string): Promise<string> => {
    const reply = await call("DELETE", path);
    return reply.ok ? done : t("staff.keys.refused", { why: String(reply.status) });
  };
  const names = toldApart(people.map((one) => one.name));
  const close = (): void => {
    setInvitation(null);
    if (opener.current instanceof HTMLElement) opener.current.focus();
  };
  return (
    <main class="sx sx-ring">
      <Head title={t("staff.keys.title")} said={t("staff.keys.count", { n: devices.filter((one) => !one.is_revoked).length })} />
      {said.about === "" && said.text !== "" && <p role="status">{said.text}</p>}
      <div class="sx-ring-new">
        <NewPerson people={people} onInvite={invite} />
        {invitation !== null && <Shown key={invitation.invited.code} invitation={invitation} onClose={close} />}
      </div>
      {session.value?.member.role === "admin" && <AsideList people={people} />}
      <section class="sx-ring-people">
        <h2>{t("staff.keys.people")}</h2>
        {people.map((member, i) => (
          <Person
            key={member.id} member={member} name={names[i] ?? ""} devices={devices.filter((one) => one.member_id === member.id)} said={said.about === member.id ? said.text : ""}
            onInvite={() => void invite({ member_id: member.id }, member.name, member.role, member.id)}
            onLost={() => void invite({ member_id: member.id, replaces_passkeys: true }, member.name, member.role, member.id)}
            onRevoke={(device) => void run(member.id, () => end(`/api/devices/${encodeURIComponent(device.id)}`, t("staff.keys.revoked", { name: device.name })))}
            onEndAll={() => void run(member.id, () => end(`/api/team/members/${encodeURIComponent(member.id)}/devices`, t("staff.keys.everywhere_done", { name: member.name })))}
          />
        ))}
      </section>
    </main>
  );
}

/** The invitation comes to whoever asked for it, wherever on the page that was. */
function Shown({ invitation: { invited, name, role }, onClose }: { invitation: Invitation; onClose: () => void }) {
  const title = useRef<HTMLHeadingElement>(null);
  const [isCopied, setCopied] = useState(false);
  useEffect(() => {
    title.current?.scrollIntoView({ block: "start" });
    title.current?.focus({ preventScroll: true });
  }, []);
  const side = invited.qr_rows.length + 2 * QUIET_MODULES;
  const path = invited.qr_rows.flatMap((row, y) => [...row].map((cell, x) => (cell === "1" ? `M${x + QUIET_MODULES} ${y + QUIET_MODULES}h1v1h-1z` : ""))).join("");
  const copy = (): void => void navigator.clipboard.writeText(invited.link).then(() => setCopied(true), () => undefined);
  return (
    <section class="sx-panel" aria-labelledby="invitation">
      <h2 id="invitation" ref={title} tabIndex={-1}>{t("staff.keys.invitation_for", { name })}</h2>
      <p>{t(`role.${role}`)} · {t("staff.keys.until", { time: momentHere(invited.expires_at_ms) })} {t("staff.keys.invitation")}</p>
      <svg viewBox={`0 0 ${side} ${side}`} width="232" height="232" shape-rendering="crispEdges" role="img" aria-label={t("staff.keys.qr")}>
        <rect width={side} height={side} fill="#fff" />
        <path d={path} fill="#000" />
      </svg>
      <p>{t("staff.keys.code")} <b class="big">{invited.code}</b></p>
      <p class="sx-quiet sx-ring-link">{invited.link}</p>
      <div class="sx-line">
        {globalThis.navigator.clipboard !== undefined && <Button kind="quiet" onPress={copy}>{t("staff.keys.copy")}</Button>}
        <Button kind="quiet" onPress={onClose}>{t("staff.keys.close")}</Button>
      </div>
      <p role="status" class="sx-said">{isCopied ? t("staff.keys.copied") : ""}</p>
    </section>
  );
}

function NewPerson({ people, onInvite }: { people: readonly Member[]; onInvite: InviteOf }) {
  const [role, setRole] = useState<Role>("soigneur");
  const [name, setName] = useState("");
  const [riderId, setRiderId] = useState("");
  const isRider = role === "rider";
  const rider = riders.value.find((one) => one.id === riderId) ?? riders.value[0];
  const known = isRider ? undefined : people.find((one) => one.name.toLowerCase() === name.trim().toLowerCase());
  const send = async (): Promise<void> => {
    if (isRider && rider !== undefined) await onInvite({ role, rider_id: rider.id }, rider.name, role);
    else if (await onInvite({ role, name: name.trim() }, name.trim(), role)) setName("");
  };
  return (
    <section class="sx-panel">
      <h2>{t("staff.keys.invite")}</h2>
      <label class="sx-picker">
        <span>{t("staff.keys.role")}</span>
        <select value={role} onChange={(event) => setRole(event.currentTarget.value as Role)}>
          {(["rider", ...STAFF_ROLES] as const).filter(mayInvite).map((one) => <option key={one} value={one}>{t(`role.${one}`)}</option>)}
        </select>
      </label>
      {!mayInvite("doctor") && <p class="sx-quiet">{t("staff.keys.guarded")}</p>}
      {isRider
        ? <label class="sx-picker"><span>{t("staff.rider")}</span><select value={rider?.id ?? ""} onChange={(event) => setRiderId(event.currentTarget.value)}>{riders.value.map((one) => <option key={one.id} value={one.id}>{riderTitle(one)}</option>)}</select></label>
        : <div class="sx-field"><label for="key-name">{t("staff.keys.name")}</label><input id="key-name" autocomplete="off" value={name} maxLength={80} aria-describedby="key-known" onInput={(event) => setName(event.currentTarget.value)} /></div>}
      <p class="sx-said" id="key-known" role="status">{known === undefined ? "" : t("staff.keys.known", { name: known.name, role: t(`role.${known.role}`) })}</p>
      {isRider && rider === undefined && <p class="sx-said">{t("staff.keys.no_riders")} <a href={href("start")}>{t("staff.desk.begin")}</a></p>}
      <Button kind="act" isDisabled={isRider ? rider === undefined : name.trim() === ""} onPress={() => void send()}>{t("staff.keys.make")}</Button>
    </section>
  );
}

interface PersonProps {
  member: Member;
  /** As the list calls him: two of one name carry a number. */
  name: string;
  devices: readonly Device[];
  said: string;
  onInvite: () => void;
  onLost: () => void;
  onRevoke: (device: Device) => void;
  onEndAll: () => void;
}

function Person({ member, name, devices, said, onInvite, onLost, onRevoke, onEndAll }: PersonProps) {
  const names = toldApart(devices.map((one) => one.name));
  const told = useSaid(said);
  return (
    <div class="sx-ring-person" role="group" aria-label={name}>
      <h3>{name} <small>{t(`role.${member.role}`)}</small></h3>
      <ul class="sx-plain">
        {devices.map((device, i) => (
          <li key={device.id}>
            <span><b>{names[i]}</b>
              <small>{device.is_revoked ? t("staff.keys.is_out") : device.is_this ? t("staff.keys.here") : t("staff.keys.seen", { day: momentHere(device.seen_at_ms) })}</small></span>
            {!device.is_revoked && !device.is_this && (
              <Sure kind="quiet" label={t("staff.keys.out_who", { name: `${name}, ${names[i]}` })} sure={t("staff.keys.sure", { name: names[i] ?? "" })} onSure={() => onRevoke(device)}>{t("staff.keys.out")}</Sure>
            )}
          </li>
        ))}
      </ul>
      {member.id !== session.value?.member.id && devices.every((one) => one.is_revoked) && <p class="sx-quiet">{t("staff.keys.none")}</p>}
      <div class="sx-line">
        {mayInvite(member.role) && <Button kind="quiet" label={t("staff.keys.again_who", { name })} onPress={onInvite}>{t("staff.keys.again")}</Button>}
        {session.value?.member.role === "admin" && member.role !== "rider" && member.id !== session.value.member.id && (
          <Sure kind="quiet" label={t("staff.keys.lost_who", { name })} sure={t("staff.keys.lost_sure", { name })} onSure={onLost}>{t("staff.keys.lost")}</Sure>
        )}
        {/* From two devices on that could be ended, one act ends them all. */}
        {devices.filter((one) => !one.is_revoked && !one.is_this).length > 1 && (
          <Sure kind="quiet" label={t("staff.keys.everywhere_who", { name })} sure={t("staff.keys.everywhere_sure", { name })} onSure={onEndAll}>{t("staff.keys.everywhere")}</Sure>
        )}
      </div>
      <p role="status" tabIndex={-1} ref={told}>{said}</p>
    </div>
  );
}
