import { useState } from "preact/hooks";

import { dayHere, momentHere } from "@/core/here.ts";
import { get } from "@/sync/api.ts";
import { Button } from "@/ui/parts/button.tsx";
import { spoken, t } from "@/ui/words.ts";

interface Look {
  readonly n: number;
  readonly at_ms: number;
  readonly act: string;
  readonly what: string;
  readonly by_name: string;
  readonly by_role: string;
  readonly is_own: boolean;
}

function whoDid(look: Look): string {
  if (look.by_role === "server") return t("me.lookedServer");
  return look.by_name === "" ? t("me.lookedErased") : `${look.by_name} (${spoken(`role.${look.by_role}`) ?? look.by_role})`;
}

function didWhat({ act, what }: Look): string {
  return spoken(`me.looked.${act}.${what}`) ?? spoken(`me.looked.${act}`, { what }) ?? t("me.looked.other", { what: `${act} ${what}` });
}

/** Lines of one day that say the same of the same person, as one line; the newest tells the time. */
function told(looks: readonly Look[]): { look: Look; line: string; n: number }[] {
  const lines = new Map<string, { look: Look; line: string; n: number }>();
  for (const look of looks) {
    const line = t("me.lookedLine", { who: whoDid(look), did: didWhat(look) });
    const key = `${line} ${dayHere(look.at_ms)}`;
    const before = lines.get(key);
    lines.set(key, { look: before === undefined || look.at_ms > before.look.at_ms ? look : before.look, line, n: (before?.n ?? 0) + 1 });
  }
  return [...lines.values()];
}

/** Who else saw, printed or took out what is this person's; the server's ledger alone knows. */
export function WhoLooked() {
  const [looks, setLooks] = useState<readonly Look[] | null>(null);
  const [said, setSaid] = useState("");
  const show = async (): Promise<void> => {
    try {
      setLooks((await get<Look[]>("/api/me/ledger")).filter((look) => !look.is_own));
      setSaid("");
    } catch {
      setSaid(t("me.lookedOffline"));
    }
  };
  return (
    <section class="group" aria-labelledby="looked">
      <h2 id="looked">{t("me.looked")}</h2>
      <p>{t("me.lookedWhat")}</p>
      {looks === null && <div class="acts"><Button onPress={() => void show()}>{t("me.lookedShow")}</Button></div>}
      {looks !== null && looks.length > 0 && (
        <ul class="rows" aria-label={t("me.looked")}>
          {told(looks).map(({ look, line, n }) => (
            <li class="fact" key={look.n}>
              <span class="fact-said">{line} <small>{momentHere(look.at_ms)}{n > 1 && `, ${t("me.lookedTimes", { n })}`}</small></span>
            </li>
          ))}
        </ul>
      )}
      <p role="status">{looks?.length === 0 ? t("me.lookedNone") : said}</p>
    </section>
  );
}
