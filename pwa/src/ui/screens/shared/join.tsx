import type { ComponentType } from "preact";
import { useEffect, useState } from "preact/hooks";

import type { Member, Rider, Team } from "@/protocol/records.ts";
import { isShared } from "@/store/held.ts";
import { deviceKey, enter } from "@/store/load.ts";
import { isKeyRefused, session, unsent } from "@/store/state.ts";
import { post, Problem } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { Button } from "@/ui/parts/button.tsx";
import { Field } from "@/ui/parts/field.tsx";
import { isInIosTab } from "@/ui/install.tsx";
import { goInstead, href, route } from "@/ui/route.ts";
import { spoken, t, wantWords } from "@/ui/words.ts";

interface Joined {
  token: string;
  member: Member;
  team: Team;
  rider: Rider | null;
  device_id: string;
}

const CODE_LENGTH = 8;

function problemSentence(problem: unknown): string {
  if (!(problem instanceof Problem)) return t("join.failed");
  return spoken(`problem.${problem.code}`, { limit: problem.limit }) ?? (problem.detail || t("join.failed"));
}

function comeHome(): void {
  goInstead("");
  void exchange();
}

type TogetherProps = { name: string; isShared: boolean; onShared: (isShared: boolean) => void };

/** Its chunk comes with the phones that need it. */
function Together(props: TogetherProps) {
  const [Found, setFound] = useState<ComponentType<TogetherProps> | null>(null);
  useEffect(() => {
    import("@/ui/screens/hold/index.ts").then(({ ShareOrReplace }) => setFound(() => ShareOrReplace), () => undefined);
  }, []);
  return Found === null ? null : <Found {...props} />;
}

/** Claim an invitation inside the app, so that the key lands where the facts will be. */
export function Join() {
  const secret = route.value.name === "join" ? (route.value.args[0] ?? null) : null;
  const [code, setCode] = useState("");
  const [device, setDevice] = useState(t("join.deviceDefault"));
  const [fault, setFault] = useState<string | null>(null);
  const [isBusy, setBusy] = useState(false);
  const [isKeyed, setKeyed] = useState(false);
  const typed = code.replace(/[\s-]/g, "").toUpperCase();
  const holder = session.value;
  // Staff may share this phone with whoever has it; a rider's own stays his until he hands it over whole. Whoever was signed
  // out of a phone of his own comes back to it.
  const mayShare = isShared() || (holder !== null && holder.member.role !== "rider" && !isKeyRefused.value);
  const [isSharing, setSharing] = useState(true);
  const isTogether = mayShare && isSharing;

  const join = async (): Promise<void> => {
    if (secret === null && typed.length !== CODE_LENGTH) {
      setFault(t("join.codeLength", { n: typed.length }));
      return;
    }
    setBusy(true);
    setFault(null);
    try {
      const name = device.trim() || t("join.deviceDefault");
      const claim = secret === null ? { code: typed } : { secret };
      if (isTogether) {
        const { comeInBy } = await import("@/ui/screens/hold/index.ts");
        if (await comeInBy(claim, name)) comeHome();
        return;
      }
      const answer = await post<Joined>("/api/join", { ...claim, device_name: name, device_key: await deviceKey() });
      await enter({
        token: answer.token, member: answer.member, team: answer.team, rider: answer.rider ?? null,
        deviceId: answer.device_id, deviceName: name,
      });
      comeHome();
    } catch (problem) {
      setFault(problemSentence(problem));
      setKeyed(problem instanceof Problem && problem.code === "passkey_needed");
    } finally {
      setBusy(false);
    }
  };

  const byPasskey = async (): Promise<void> => {
    setBusy(true);
    setFault(null);
    try {
      const [{ signInByPasskey, whyNot }] = await Promise.all([import("@/ui/screens/staff/passkey_acts.ts"), wantWords("staff")]);
      const name = device.trim() || t("join.deviceDefault");
      const told = await signInByPasskey(name).catch(whyNot);
      if (typeof told === "string") return setFault(told);
      if (isTogether) {
        const { comeInAs } = await import("@/ui/screens/hold/index.ts");
        if (await comeInAs(told, name)) comeHome();
        return;
      }
      await enter({ token: told.token, member: told.member, team: told.team, rider: told.rider ?? null, deviceId: told.device_id, deviceName: name });
      comeHome();
    } catch {
      setFault(t("join.failed"));
    } finally {
      setBusy(false);
    }
  };

  return (
    <main class="page">
      <header class="page-head">
        <h1>{t("app.name")}</h1>
        <p>{t("join.what")}</p>
      </header>
      {mayShare && !isShared() && holder !== null && <Together name={holder.member.name} isShared={isSharing} onShared={setSharing} />}
      {holder !== null && !isTogether && <p class="flag flag-caution">{t("join.already", { name: holder.member.name, n: unsent.value?.count ?? 0 })}</p>}
      {isInIosTab() && <p class="flag flag-caution">{t("join.install")}</p>}
      <form class="page-form" onSubmit={(event) => { event.preventDefault(); void join(); }}>
        {secret === null ? (
          <div class="code-entry"><Field label={t("join.code")} text={code} onText={setCode} mode="text" hint={t("join.codeHint")} /></div>
        ) : <p>{t("join.haveLink")}</p>}
        <Field label={t("join.device")} text={device} onText={setDevice} mode="text" hint={t("join.deviceHint")} />
        {fault !== null && <p class="fault" role="alert">{fault}</p>}
        {fault !== null && secret !== null && <p><a class="button button-quiet" href={href("join")}>{t("join.otherWay")}</a></p>}
        <div class="acts"><Button kind="act" isDisabled={isBusy} onPress={() => void join()}>{isBusy ? t("join.asking") : t("join.join")}</Button></div>
        {(secret === null || isKeyed) && <div class="acts"><Button kind="quiet" isDisabled={isBusy} onPress={() => void byPasskey()}>{t("join.passkey")}</Button></div>}
      </form>
      {mayShare && <p><a class="button button-quiet" href={href("")}>{t("hold.not_now")}</a></p>}
    </main>
  );
}
