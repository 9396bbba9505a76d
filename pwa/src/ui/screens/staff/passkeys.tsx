import { useEffect, useState } from "preact/hooks";

import { dayHere } from "@/core/here.ts";
import { isHeldBack, session } from "@/store/state.ts";
import { get, put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { Button } from "@/ui/parts/button.tsx";
import { focusKept, useSaid } from "@/ui/parts/sure.tsx";
import { canPasskeys, forgetPasskey, makePasskey, showWhoIAm, whyNot } from "@/ui/screens/staff/passkey_acts.ts";
import { t } from "@/ui/words.ts";

interface Own {
  readonly passkeys: readonly { readonly id: string; readonly name: string; readonly made_at_ms: number }[];
  readonly is_step_up_asked: boolean;
  readonly fresh_minutes: number;
}

/** Do one thing, and say how it went. */
function useActs(): [string, boolean, (act: () => Promise<void>, done: string) => Promise<void>] {
  const [said, setSaid] = useState("");
  const [isBusy, setBusy] = useState(false);
  const run = async (act: () => Promise<void>, done: string): Promise<void> => {
    const refocus = focusKept();
    setBusy(true);
    setSaid("");
    try {
      await act();
      setSaid(done);
    } catch (problem) {
      setSaid(whyNot(problem));
    } finally {
      setBusy(false);
      refocus();
    }
  };
  return [said, isBusy, run];
}

/** Whoever makes a passkey has shown who holds this device, so what waited comes. */
async function makeFirst(): Promise<void> {
  await makePasskey(session.value?.deviceName ?? "passkey");
  isHeldBack.value = false;
  await exchange();
}

/** Above each staff screen while others' figures wait; what this phone holds stays readable, and noting goes on. */
export function HeldBackLine() {
  const [said, isBusy, run] = useActs();
  const isHeld = isHeldBack.value;
  const [hasNone, setNone] = useState(false);
  useEffect(() => {
    if (isHeld) void get<Own>("/api/me/passkeys").then((own) => setNone(own.passkeys.length === 0), () => undefined);
  }, [isHeld]);
  if (!isHeld) return null;
  const why = hasNone ? t("passkey.waits_first") : t("passkey.waits");
  return (
    <div class="flag flag-caution" role="group" aria-label={why}>
      <p>{why}</p>
      <Button kind="act" isDisabled={isBusy} onPress={() => void run(hasNone ? makeFirst : showWhoIAm, "")}>{hasNone ? t("passkey.make") : t("passkey.show")}</Button>
      <p role="status">{said}</p>
    </div>
  );
}

/** A person's own passkeys, and for admins whether the team asks for them. */
export function Passkeys() {
  const [own, setOwn] = useState<Own | null>(null);
  const [said, isBusy, run] = useActs();
  const told = useSaid(said);
  const read = (): Promise<void> => get<Own>("/api/me/passkeys").then(setOwn, () => undefined);
  useEffect(() => void read(), []);
  const who = session.value;
  const act = (what: () => Promise<void>, done: string): void => void run(async () => { await what(); await read(); }, done);
  if (!canPasskeys()) return <section class="group"><h2>{t("passkey.title")}</h2><p>{t("passkey.cannot")}</p></section>;
  return (
    <section class="group" aria-labelledby="passkeys">
      <h2 id="passkeys">{t("passkey.title")}</h2>
      <p>{t("passkey.what")}</p>
      {(own?.passkeys.length ?? 0) > 0 && <ul class="rows">
        {(own?.passkeys ?? []).map((one) => (
          <li class="fact" key={one.id}>
            <span class="fact-said"><b>{one.name}</b> <small>{t("passkey.made", { day: dayHere(one.made_at_ms) })}</small></span>
            <Button kind="quiet" isDisabled={isBusy} label={t("passkey.forget_who", { name: one.name })} onPress={() => act(() => forgetPasskey(one.id), t("passkey.forgotten"))}>{t("passkey.forget")}</Button>
          </li>
        ))}
      </ul>}
      <div class="acts">
        <Button isDisabled={isBusy} onPress={() => act(() => makePasskey(who?.deviceName ?? "passkey"), t("passkey.kept"))}>{t("passkey.make")}</Button>
        {(own?.passkeys.length ?? 0) > 0 && <Button kind="quiet" isDisabled={isBusy} onPress={() => act(showWhoIAm, t("passkey.shown"))}>{t("passkey.show")}</Button>}
      </div>
      {who?.member.role === "admin" && own !== null && (
        <Button isPressed={own.is_step_up_asked} isDisabled={isBusy} onPress={() => act(() => put("/api/team/step-up", { is_asked: !own.is_step_up_asked }), "")}>
          {t("passkey.step_up", { n: own.fresh_minutes })}
        </Button>
      )}
      <p role="status" tabIndex={-1} ref={told}>{said}</p>
    </section>
  );
}
