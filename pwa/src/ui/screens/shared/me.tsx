import { useEffect, useState } from "preact/hooks";
import type { ComponentType } from "preact";

import { latelyHere } from "@/core/here.ts";
import type { TrayItem } from "@/store/state.ts";
import { isShared } from "@/store/held.ts";
import { clearTray, leave } from "@/store/load.ts";
import { docs, events, isCopied, isKeyRefused, isInStage, lastPassedAtMs, session, tray, unsent, updateReady } from "@/store/state.ts";
import { call } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { mayTakeUpdate, takeUpdate } from "@/sync/worker.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Sure } from "@/ui/parts/sure.tsx";
import { oldestWaits, PhoneSays, SaveHeld } from "@/ui/parts/held.tsx";
import { href } from "@/ui/route.ts";
import { choices, choose } from "@/ui/choices.ts";
import { MyTastes } from "@/ui/screens/rider/tastes.tsx";
import { Alerts } from "@/ui/screens/shared/alerts.tsx";
import { Devices } from "@/ui/screens/shared/devices.tsx";
import { WhoLooked } from "@/ui/screens/shared/looked.tsx";
import { chooseTheme, theme, THEMES } from "@/ui/theme.ts";
import { type Language, LANGUAGES, spoken, t, wantWords } from "@/ui/words.ts";

function Held() {
  const held = unsent.value;
  const [isBusy, setBusy] = useState(false);
  const pass = async (): Promise<void> => {
    setBusy(true);
    await exchange();
    setBusy(false);
  };
  return (
    <section class="group" aria-labelledby="held">
      <h2 id="held">{t("me.held")}</h2>
      <p class="big">{held?.count ?? 0}</p>
      <p>{held === null ? t("me.allPassed") : `${t("me.oldest", { time: latelyHere(held.oldestAtMs, Date.now()) })} ${oldestWaits()}`}</p>
      <PhoneSays />
      {lastPassedAtMs.value !== null && <p>{t("me.lastPassed", { time: latelyHere(lastPassedAtMs.value, Date.now()) })}</p>}
      {(isKeyRefused.value || isCopied.value) && <p class="flag flag-stop">{isKeyRefused.value ? t("me.keyRefused") : t("me.copied")} <a href={href("join")}>{t("me.joinAgain")}</a></p>}
      <div class="acts"><Button kind="act" isDisabled={isBusy} onPress={() => void pass()}>{t("me.passNow")}</Button><SaveHeld /></div>
    </section>
  );
}

function refusal({ verdict }: TrayItem): string {
  const said = spoken(`verdict.${verdict.code ?? ""}`, { field: verdict.field ?? "", limit: verdict.limit ?? "" });
  if (said !== null) return said;
  if (verdict.status === "conflict") return t("verdict.conflict");
  return t("verdict.other", { field: (verdict.field ?? "").replaceAll("_", " ") || (verdict.code ?? ""), limit: verdict.limit ?? "" });
}

function Tray() {
  if (tray.value.length === 0) return null;
  return (
    <section class="group" aria-labelledby="tray">
      <h2 id="tray">{t("me.tray")}</h2>
      <p>{t("me.trayWhat")}</p>
      <ul class="rows">
        {tray.value.map((item) => (
          <li class="fact" key={item.event.id}>
            <span class="fact-said">
              <b>{spoken(`fact.${item.event.kind}`) ?? item.event.kind}</b> {latelyHere(item.event.at_ms, Date.now())}
              <small>{refusal(item)}</small>
            </span>
            <Button kind="quiet" onPress={() => void clearTray(item.event.id)}>{t("me.seen")}</Button>
          </li>
        ))}
      </ul>
    </section>
  );
}

function Look() {
  return (
    <section class="group" aria-labelledby="look">
      <h2 id="look">{t("me.look")}</h2>
      <div class="acts acts-3">
        {THEMES.map((name) => (
          <Button key={name} isPressed={theme.value === name} onPress={() => chooseTheme(name)}>
            <span>{t(`theme.${name}`)}</span>
          </Button>
        ))}
      </div>
      <p class="field-hint">{t(`theme.${theme.value}.what`)}</p>
    </section>
  );
}

type Choice = "volume" | "mass" | "temperature" | "distance";
const UNIT_CHOICES = { volume: ["metric", "us"], mass: ["kg", "lb"], temperature: ["c", "f"], distance: ["km", "mi"] } as const;

/** Language and units belong to the person: they come along to the next phone in the same hands. */
function Choices() {
  const chosen = choices.value;
  const [isBusy, setBusy] = useState(false);
  const take = async (change: Partial<typeof chosen>): Promise<void> => {
    setBusy(true);
    await choose(change);
    setBusy(false);
  };
  return (
    <section class="group" aria-labelledby="choices" aria-busy={isBusy}>
      <h2 id="choices">{t("me.choices")}</h2>
      <label class="picker">
        <span>{t("me.language")}</span>
        <select value={chosen.language} onChange={(event) => void take({ language: event.currentTarget.value as Language })}>
          {Object.entries(LANGUAGES).map(([code, name]) => <option key={code} value={code} lang={code}>{name}</option>)}
        </select>
      </label>
      {(Object.keys(UNIT_CHOICES) as Choice[]).map((what) => (
        <div key={what} class="choice" role="group" aria-label={t(`me.unit.${what}`)}>
          <span>{t(`me.unit.${what}`)}</span>
          {UNIT_CHOICES[what].map((unit) => (
            <Button key={unit} isPressed={chosen[what] === unit} onPress={() => void take({ [what]: unit })}>{t(`unit.${unit}`)}</Button>
          ))}
        </div>
      ))}
      <p class="field-hint">{t("me.timeWhat")}</p>
    </section>
  );
}

function Storage() {
  const [isKept, setKept] = useState<boolean | null>(null);
  useEffect(() => {
    void Promise.resolve(navigator.storage?.persisted?.() ?? false).then(setKept, () => setKept(false));
  }, []);
  const ask = async (): Promise<void> => setKept((await navigator.storage?.persist?.()) ?? false);
  return (
    <section class="group" aria-labelledby="storage">
      <h2 id="storage">{t("me.storage")}</h2>
      {isKept !== null && <p>{isKept ? t("me.storageKept") : t("me.storageMayDrop")}</p>}
      {isKept === false && <div class="acts"><Button onPress={() => void ask()}>{t("me.storageAsk")}</Button></div>}
    </section>
  );
}

/** Everything this phone holds, as a file of one's own; it needs no network. */
function Copy() {
  const [url, setUrl] = useState<string | null>(null);
  const make = (): void => {
    const held = { member: session.value?.member, facts: [...events.value.values()], records: [...docs.value.values()] };
    setUrl(URL.createObjectURL(new Blob([JSON.stringify(held, null, 1)], { type: "application/json" })));
  };
  return (
    <section class="group" aria-labelledby="copy">
      <h2 id="copy">{t("me.data")}</h2>
      <p>{t("me.dataWhat", { n: events.value.size })}</p>
      <div class="acts">
        {url === null ? <Button onPress={make}>{t("me.dataCopy")}</Button> : <a class="button" href={url} download="brinebook.json">{t("me.dataSave")}</a>}
      </div>
    </section>
  );
}

const END_WITHIN_MS = 5000;

/** End this device on the server, its wake-ups included. Without a network it stays in the list of devices until it runs out. */
const endHere = (): Promise<unknown> => Promise.race([
  call("DELETE", `/api/devices/${encodeURIComponent(session.value?.deviceId ?? "")}`).catch(() => undefined),
  new Promise((resolve) => setTimeout(resolve, END_WITHIN_MS)),
]);

function Leave() {
  const [said, setSaid] = useState("");
  const [isAsked, setAsked] = useState(false);
  const go = async (isLettingGo = false): Promise<void> => {
    const hold = isShared() ? await import("@/ui/screens/hold/index.ts") : null;
    if (!(await (hold?.leaveShared ?? leave)(endHere, isLettingGo))) setSaid(t("me.leaveRefused", { n: unsent.value?.count ?? 0 }));
  };
  return (
    <section class="group" aria-labelledby="leave">
      <h2 id="leave">{t("me.leave")}</h2>
      <p>{t("me.leaveWhat")}</p>
      <div class="acts">
        {isAsked ? <Button onPress={() => void go()}>{t("me.leaveSure")}</Button> : <Button onPress={() => setAsked(true)}>{t("me.leaveDo")}</Button>}
      </div>
      {said !== "" && <p class="fault" role="alert">{said}</p>}
      {said !== "" && isKeyRefused.value && (
        <>
          <p>{t("me.leaveOut")}</p>
          <Sure sure={t("me.leaveLoseSure")} onSure={() => void go(true)}>{t("me.leaveLose", { n: unsent.value?.count ?? 0 })}</Sure>
        </>
      )}
    </section>
  );
}

/** Staff alone have passkeys, so a rider's phone never loads what makes them. */
function StaffKeys() {
  const [Found, setFound] = useState<ComponentType | null>(null);
  useEffect(() => {
    Promise.all([import("@/ui/screens/staff/passkeys.tsx"), wantWords("staff")]).then(([{ Passkeys }]) => setFound(() => Passkeys), () => undefined);
  }, []);
  return Found === null ? null : <Found />;
}

/** Staff may share a phone; a rider's stays his, so his never loads what it takes. */
function StaffPhone() {
  const [Found, setFound] = useState<ComponentType | null>(null);
  useEffect(() => {
    import("@/ui/screens/hold/index.ts").then(({ SharedPhone }) => setFound(() => SharedPhone), () => undefined);
  }, []);
  return Found === null ? null : <Found />;
}

function Update() {
  if (!updateReady.value) return null;
  return (
    <section class="group" aria-labelledby="update">
      <h2 id="update">{t("app.newVersion")}</h2>
      <p>{isInStage.value ? t("me.updateStage") : t("me.updateWhat")}</p>
      <div class="acts"><Button kind="act" isDisabled={!mayTakeUpdate()} onPress={takeUpdate}>{t("app.take")}</Button></div>
    </section>
  );
}

export function Me() {
  const who = session.value;
  if (who === null) return null;
  return (
    <main class="page page-slim">
      <header class="page-head">
        <h1>{who.member.name}</h1>
        <p>{t(`role.${who.member.role}`)} · {who.team.name} · {who.team.race_name}</p>
        <p>{t("me.device", { name: who.deviceName })}</p>
      </header>
      {isShared() && <StaffPhone />}
      <Held />
      <Tray />
      <Update />
      <Choices />
      <MyTastes />
      <Look />
      <Alerts />
      <Storage />
      <Devices />
      {who.member.role !== "rider" && <StaffKeys />}
      {who.member.role !== "rider" && !isShared() && <StaffPhone />}
      <Copy />
      <p class="acts"><a class="button" href={href("mine")}>{t("me.mine")}</a></p>
      <WhoLooked />
      <Leave />
    </main>
  );
}

export const routes: Record<string, ComponentType> = { me: Me };
