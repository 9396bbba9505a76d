import { useState } from "preact/hooks";

import { litres } from "@/core/display.ts";
import type { Rider, Stage } from "@/protocol/records.ts";
import { currentStage } from "@/store/state.ts";
import { publish } from "@/ui/screens/staff/acts.ts";
import { canEdit, planOf, raced, riders } from "@/ui/screens/staff/look.ts";
import { Head, NothingYet, StagePicker } from "@/ui/screens/staff/parts.tsx";
import { PlanDetail } from "@/ui/screens/staff/plan_detail.tsx";
import { href, route } from "@/ui/route.ts";
import { t } from "@/ui/words.ts";

/** Where a plan of one rider on one stage stands. */
export const planPath = (stageId: string, riderId: string): string => href("plans", stageId, riderId);

export function PlansScreen() {
  const [stageId, riderId] = route.value.args;
  const stage = raced.value.find((s) => s.id === stageId) ?? currentStage.value;
  const chosen = riders.value.find((rider) => rider.id === riderId) ?? riders.value[0];
  if (stage === null || chosen === undefined) {
    return <main class="sx"><Head title={t("staff.plans.title")} /><NothingYet /></main>;
  }
  return (
    <main class="sx sx-plans">
      <Head title={t("staff.plans.title")} said={countText(stage)}>
        <StagePicker chosenId={stage.id} onPick={(picked) => { location.hash = planPath(picked.id, chosen.id); }} />
        {canEdit.value && <Publish stage={stage} key={stage.id} />}
      </Head>
      <div class="sx-split">
        <RiderList stage={stage} chosenId={chosen.id} />
        <section class="sx-plan" aria-labelledby="plan-rider">
          <PlanDetail rider={chosen} stage={stage} plan={planOf(chosen.id, stage.id)} key={`${chosen.id} ${stage.id}`} />
        </section>
      </div>
    </main>
  );
}

function countText(stage: Stage): string {
  const plans = riders.value.map((rider) => planOf(rider.id, stage.id)).filter((plan) => plan !== null);
  return t("staff.plans.count", { n: plans.filter((plan) => plan.status === "published").length, all: riders.value.length });
}

function RiderList({ stage, chosenId }: { stage: Stage; chosenId: string }) {
  return (
    <nav class="sx-riders" aria-label={t("staff.plans.riders")}>
      <ul>
        {riders.value.map((rider) => <RiderLink key={rider.id} rider={rider} stage={stage} isChosen={rider.id === chosenId} />)}
      </ul>
    </nav>
  );
}

function RiderLink({ rider, stage, isChosen }: { rider: Rider; stage: Stage; isChosen: boolean }) {
  const plan = planOf(rider.id, stage.id);
  const n = (plan?.flags ?? []).filter((flag) => flag.severity !== "note").length;
  return (
    <li>
      <a href={planPath(stage.id, rider.id)} {...(isChosen ? { "aria-current": "page" as const } : {})}>
        <span class="sx-no">{rider.race_number}</span>
        <span class="sx-riders-name">{rider.name}</span>
        <small>
          {plan === null ? t("staff.plans.none") : `${litres(plan.water_l)} · ${t(`staff.plans.${plan.status}`)}`}
          {n > 0 && ` · ${t("staff.plans.cautions", { n })}`}
        </small>
      </a>
    </li>
  );
}

/** Publishing goes to everybody's phone at once, so it needs the link and says what came of it. */
function Publish({ stage }: { stage: Stage }) {
  const [said, setSaid] = useState("");
  const [isBusy, setBusy] = useState(false);
  const send = async (): Promise<void> => {
    setBusy(true);
    setSaid("");
    setSaid(await publish(stage.id));
    setBusy(false);
  };
  const draft = riders.value.some((rider) => planOf(rider.id, stage.id)?.status === "draft");
  return (
    <div class="sx-publish">
      <button type="button" class={draft ? "button button-quiet button-act" : "button button-quiet"} disabled={isBusy} onClick={() => void send()}>
        {t("staff.plans.publish", { n: stage.number })}
      </button>
      <p role="status" class="sx-publish-said">{said}</p>
    </div>
  );
}
