import { useEffect, useRef, useState } from "preact/hooks";

import type { Holder } from "@/core/held.ts";
import { stageTime } from "@/core/display.ts";
import { holders, presentId } from "@/store/held.ts";
import { waitingOf } from "@/sync/others.ts";
import { Button } from "@/ui/parts/button.tsx";
import { href } from "@/ui/route.ts";
import type { Answered } from "@/ui/screens/hold/gate.ts";
import { forgetHalfTyped, halfTyped } from "@/ui/screens/hold/half_typed.ts";
import { ask, asksForKey, choose, mayKeep, presentHolder } from "@/ui/screens/hold/hands.ts";
import { spoken, t } from "@/ui/words.ts";

const LOOK_EVERY_MS = 5_000;

function why(answered: Answered, { name }: Holder): string {
  if (answered === "open") return "";
  return answered === "refused" ? t("hold.refused", { name }) : answered === "offline" ? t("hold.offline", { name }) : t("hold.no_passkey", { name });
}

function WhatItTakes({ holder }: { holder: Holder }) {
  if (holder.isOut === true) return <small>{t("hold.out")}</small>;
  return <small>{asksForKey(holder) ? t("hold.key") : t("hold.no_key", { name: holder.name })}</small>;
}

/** How many entries wait, by holder; looked up now and then, since others' are handed in meanwhile. */
function useWaiting(): Readonly<Record<string, number>> {
  const [waiting, setWaiting] = useState<Readonly<Record<string, number>>>({});
  useEffect(() => {
    let isOver = false;
    const look = async (): Promise<void> => {
      const all = await Promise.all(holders().map(async ({ id }) => [id, await waitingOf(id).catch(() => 0)] as const));
      if (!isOver) setWaiting(Object.fromEntries(all));
    };
    void look();
    const timer = setInterval(() => void look(), LOOK_EVERY_MS);
    return () => {
      isOver = true;
      clearInterval(timer);
    };
  }, []);
  return waiting;
}

/** The people who share this phone, one tap each. */
export function Chips({ all, onChosen, isBusy }: { all: readonly Holder[]; onChosen: (holder: Holder) => void; isBusy: boolean }) {
  const waiting = useWaiting();
  return (
    <ul class="hold-list">
      {all.map((holder) => (
        <li key={holder.id}>
          <button type="button" class="button hold-one" data-edge={holder.edge} disabled={isBusy} onClick={() => onChosen(holder)}>
            <b>{holder.name}</b> <span>{spoken(`role.${holder.role}`)}</span>
          </button>
          <WhatItTakes holder={holder} />
          {(waiting[holder.id] ?? 0) > 0 && <small>{t("hold.waits", { n: waiting[holder.id] ?? 0 })}</small>}
        </li>
      ))}
    </ul>
  );
}

/** Ask who it is, and say why a book stays closed. */
function useChoosing(): [string, boolean, (holder: Holder) => Promise<void>] {
  const [said, setSaid] = useState("");
  const [isBusy, setBusy] = useState(false);
  const run = async (holder: Holder): Promise<void> => {
    setBusy(true);
    setSaid("");
    setSaid(why(await choose(holder), holder));
    setBusy(false);
  };
  return [said, isBusy, run];
}

/** Before everything else while nobody is known to hold the phone; it needs no network. */
export function Chooser() {
  const [said, isBusy, run] = useChoosing();
  const title = useRef<HTMLHeadingElement>(null);
  useEffect(() => title.current?.focus(), []);
  const mine = presentHolder();
  return (
    <main class="page" data-hold onKeyDown={(event) => event.stopPropagation()}>
      <header class="page-head">
        <h1 ref={title} tabIndex={-1}>{t("hold.title")}</h1>
        <p>{t("hold.what")}</p>
      </header>
      <Chips all={holders()} isBusy={isBusy} onChosen={(holder) => void run(holder)} />
      <p class="fault" role="alert">{said}</p>
      <p class="acts">
        {mine !== undefined && mayKeep() && <Button onPress={() => void run(mine)}>{t("hold.keep", { name: mine.name })}</Button>}
        <a class="button button-quiet" href={href("join")}>{t("hold.add")}</a>
      </p>
    </main>
  );
}

function Left() {
  const left = halfTyped.value;
  if (left === null) return null;
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
  return (
    <aside class="hint hold-left" aria-label={t("hold.left")}>
      <p><b>{t("hold.left")}</b> {stageTime(left.atMs, zone)}</p>
      <ul>{left.lines.map(({ label, text }) => <li key={label + text}>{label}: <b>{text}</b></li>)}</ul>
      <div class="acts">
        <a class="button button-quiet" href={left.page || "#/"}>{t("hold.left_open")}</a>
        <Button kind="quiet" onPress={() => void forgetHalfTyped()}>{t("hold.left_seen")}</Button>
      </div>
    </aside>
  );
}

/** On top of every screen: in whose name this phone notes, in words and by a coloured edge. */
export function Band() {
  const mine = presentHolder();
  if (mine === undefined || holders().length < 2) return null;
  return (
    <>
      <div class="hold-band" data-edge={mine.edge} role="group" aria-label={t("hold.title")}>
        <p><b>{mine.name}</b> {t("hold.noting", { role: spoken(`role.${mine.role}`) ?? mine.role })}</p>
        <Button kind="quiet" onPress={() => void ask()}>{t("hold.hand_on")}</Button>
      </div>
      <Left />
    </>
  );
}

/** On Me: who else lives on this phone, and how somebody comes to. */
export function SharedPhone() {
  const [said, isBusy, run] = useChoosing();
  const all = holders();
  const mine = presentHolder();
  const isOne = all.length < 2;
  return (
    <section class="group" aria-labelledby="shared-phone">
      <h2 id="shared-phone">{isOne ? t("hold.share") : t("hold.shared")}</h2>
      <p>{isOne ? t("hold.share_what") : t("hold.shared_what")}</p>
      {!isOne && <Chips all={all.filter(({ id }) => id !== presentId)} isBusy={isBusy} onChosen={(holder) => void run(holder)} />}
      {!isOne && mine !== undefined && !asksForKey(mine) && <p class="flag flag-caution">{t("hold.own_no_key")}</p>}
      <p class="fault" role="alert">{said}</p>
      <p class="acts"><a class="button" href={href("join")}>{t("hold.add")}</a></p>
    </section>
  );
}

/** On the join page of a phone that somebody has: whether he keeps it too. */
export function ShareOrReplace({ name, isShared, onShared }: { name: string; isShared: boolean; onShared: (isShared: boolean) => void }) {
  return (
    <fieldset class="group">
      <legend>{t("hold.whose")}</legend>
      <div class="acts">
        <Button isPressed={isShared} onPress={() => onShared(true)}>{t("hold.whose_shared", { name })}</Button>
        <Button isPressed={!isShared} onPress={() => onShared(false)}>{t("hold.whose_mine")}</Button>
      </div>
      {isShared && <p>{t("hold.whose_shared_what")}</p>}
    </fieldset>
  );
}
