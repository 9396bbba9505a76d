import { useState } from "preact/hooks";

import type { SymptomBody } from "@/protocol/records.ts";
import { append } from "@/store/commands.ts";
import { Button } from "@/ui/parts/button.tsx";
import { facts } from "@/ui/screens/rider/road_state.ts";
import { t } from "@/ui/words.ts";

type Symptom = SymptomBody["symptom"];
const SYMPTOMS: readonly Symptom[] = ["headache", "nausea", "vomiting", "bloating", "puffy_hands", "cramp", "dizzy", "confused"];

/**
 * Those that too much water can cause as well as too little, by the signs of exercise-associated hyponatraemia in the
 * consensus statement of 2015 (Hew-Butler et al., Clin. J. Sport Med. 25:303): more plain water could harm.
 */
const SPEAK_FIRST: ReadonlySet<Symptom> = new Set(["headache", "nausea", "vomiting", "bloating", "puffy_hands", "dizzy", "confused"]);

/** How the rider feels. The rider and the doctor alone ever read it. */
export function Symptoms({ stageId, riderId }: { stageId: string; riderId: string }) {
  const [said, setSaid] = useState("");
  const noted = new Set(facts.value.filter((fact) => fact.kind === "symptom").map((fact) => (fact.body as SymptomBody).symptom));
  const note = async (symptom: Symptom): Promise<void> => {
    if (noted.has(symptom)) return;
    try {
      await append("symptom", riderId, { symptom }, { stageId });
      setSaid("");
    } catch {
      setSaid(t("road.notNoted"));
    }
  };
  const isGrave = noted.has("confused") || noted.has("vomiting");
  return (
    <section class="group" aria-labelledby="symptoms">
      <h2 id="symptoms">{t("bus.symptoms")}</h2>
      <p class="field-hint">{t("bus.symptomsWho")}</p>
      <div class="chips">
        {SYMPTOMS.map((name) => <Button key={name} isPressed={noted.has(name)} onPress={() => void note(name)}>{t(`symptom.${name}`)}</Button>)}
      </div>
      {[...noted].some((name) => SPEAK_FIRST.has(name)) && (
        <p class={isGrave ? "flag flag-medical" : "flag flag-caution"} role="alert">{isGrave ? t("bus.symptomGrave") : t("bus.symptomSpeak")}</p>
      )}
      <p role="status">{said}</p>
    </section>
  );
}
