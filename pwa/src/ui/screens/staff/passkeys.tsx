import { useEffect, useState } from "preact/hooks";

import { dayHere } from "@/core/display.ts";
import { isHeldBack, session } from "@/store/state.ts";
import { get, put } from "@/sync/api.ts";
import { Button } from "@/ui/parts/button.tsx";
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
    setBusy(true);
    setSaid("");
    try {
      await act();
      setSaid(done);
    } catch (problem) {
      setSaid(whyNot(problem));
    } finally {
      setBusy(false);
    }
  };
  return [said, isBusy, run];
}

/** Above each staff screen while others' figures wait; what this phone holds stays readable, and noting goes on. */
export function HeldBackLine() {
  const [said, isBusy, run] = useActs();
  if (!isHeldBack.value) return null;
  return (
    <div class="flag flag-caution" role="group" aria-label={t("passkey.waits")}>
      <p>{t("passkey.waits")}</p>
      <Button kind="act" isDisabled={isBusy} onPress={() => void run(showWhoIAm, "")}>{t("passkey.show")}</Button>
      <p role="status">{said}</p>
    </div>
  );
}

/** A person's own passkeys, and for admins whether the team asks for them. */
export function Passkeys() {
  const [own, setOwn] = useState<Own | null>(null);
  const [said, isBusy, run] = useActs();
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
      <p role="status">{said}</p>
    </section>
  );
}
