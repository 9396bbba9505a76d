import { useState } from "preact/hooks";

import { checked, type FieldRule } from "@/core/sweat_day.ts";
import type { Rider, RiderBody } from "@/protocol/records.ts";
import { doc, session } from "@/store/state.ts";
import { put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { problemSentence } from "@/ui/screens/staff/acts.ts";
import { canEdit } from "@/ui/screens/staff/look.ts";
import { Answer, NumberField, type Said } from "@/ui/screens/staff/parts.tsx";
import { t } from "@/ui/words.ts";

const INTAKE: FieldRule = { name: "max_intake_l_per_h", unit: "L/h", low: 0.3, high: 1.5, isOptional: true };
const SODIUM: FieldRule = { name: "released_sodium_mg_per_h", unit: "mg/h", low: 1000, high: 1500, isOptional: true };

const textOf = (value: number | null | undefined): string => (value === null || value === undefined ? "" : String(value));

/** What a plan may give one rider beyond the defaults: tested drinking, gut training, and the physician's sodium. */
export function RiderLimits({ rider }: { rider: Rider }) {
  const body = doc<RiderBody>(`rider_body:${rider.id}`);
  return body === null ? null : <Limits key={rider.id} body={body} />;
}

function Limits({ body }: { body: RiderBody }) {
  const isDoctor = session.value?.member.role === "doctor";
  const [intake, setIntake] = useState(textOf(body.max_intake_l_per_h));
  const [sodium, setSodium] = useState(textOf(body.released_sodium_mg_per_h));
  const [isTrained, setTrained] = useState(body.is_gut_trained === true);
  const [hasAgreed, setAgreed] = useState(body.has_agreed_to_high_carbohydrate === true);
  const [isReleased, setReleased] = useState(body.is_released_by_physician === true);
  const [said, setSaid] = useState<Said | null>(null);
  const [most, released] = [checked(intake, INTAKE), checked(sodium, SODIUM)];
  const keep = async (): Promise<void> => {
    if (most.issue !== null || released.issue !== null) return;
    try {
      await put<RiderBody>(`/api/rider-bodies/${body.id}`, {
        ...body, max_intake_l_per_h: most.value, released_sodium_mg_per_h: released.value, is_gut_trained: isTrained, has_agreed_to_high_carbohydrate: hasAgreed, is_released_by_physician: isReleased,
      });
      setSaid({ text: t("staff.limits.kept"), isFault: false });
      void exchange();
    } catch (problem) {
      setSaid({ text: problemSentence(problem), isFault: true });
    }
  };
  return (
    <section>
      <h2 id="limits-title">{t("staff.limits.title")}</h2>
      <form class="sx-bare" aria-labelledby="limits-title" onSubmit={(event) => { event.preventDefault(); void keep(); }}>
        <fieldset class="sx-bare" disabled={!canEdit.value}>
          <NumberField id="limit-intake" label={t("staff.limits.intake")} rule={INTAKE} text={intake} onText={setIntake} isShown hint={t("staff.limits.intake_hint")} />
          <label class="sx-tick"><input type="checkbox" checked={isTrained} onChange={(event) => setTrained(event.currentTarget.checked)} /> {t("staff.limits.trained")}</label>
          <label class="sx-tick"><input type="checkbox" checked={hasAgreed} onChange={(event) => setAgreed(event.currentTarget.checked)} /> {t("staff.limits.agreed")}</label>
          <p class="sx-quiet">{t("staff.limits.gut_said")}</p>
        </fieldset>
        <fieldset class="sx-bare" disabled={!isDoctor}>
          <NumberField id="limit-sodium" label={t("staff.limits.sodium")} rule={SODIUM} text={sodium} onText={setSodium} isShown hint={t("staff.limits.sodium_hint")} />
          {body.needs_physician_release === true && <label class="sx-tick"><input type="checkbox" checked={isReleased} onChange={(event) => setReleased(event.currentTarget.checked)} /> {t("staff.limits.released")}</label>}
        </fieldset>
        {(canEdit.value || isDoctor) && <button type="submit" class="button button-quiet button-act">{t("staff.limits.keep")}</button>}
      </form>
      <Answer said={said} />
    </section>
  );
}
