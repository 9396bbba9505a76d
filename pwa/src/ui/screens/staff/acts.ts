/** What staff do: facts go through the store's commands, records and publishing through the server. */

import type { AgreedBody, Stage, SweatSampleBody, WeighedRideBody } from "@/protocol/records.ts";
import { agreed, reopened, sweatSample, weighedRide } from "@/store/commands.ts";
import { post, postFile, Problem, put } from "@/sync/api.ts";
import { exchange } from "@/sync/exchange.ts";
import { spoken, t } from "@/ui/words.ts";

export interface Agreement {
  drunkL: number;
  proposedL: number | null;
  reason: NonNullable<AgreedBody["reason"]>;
  note: string;
  /** The agreed figures that stood before the author's eyes. */
  over: readonly string[];
}

export async function agree(riderId: string, stageId: string, what: Agreement): Promise<void> {
  await agreed(riderId, stageId, {
    drunk_l: what.drunkL,
    over: [...what.over],
    ...(what.proposedL === null ? {} : { proposed_l: what.proposedL }),
    ...(what.reason === "" ? {} : { reason: what.reason }),
    ...(what.note.trim() === "" ? {} : { note: what.note.trim() }),
  });
}

export async function reopen(riderId: string, stageId: string, reason: string): Promise<void> {
  await reopened(riderId, stageId, reason);
}

export async function keepSamples(riderId: string, samples: readonly SweatSampleBody[], atMs: number): Promise<void> {
  for (const sample of samples) await sweatSample(riderId, sample, { atMs });
}

export async function keepRide(riderId: string, ride: WeighedRideBody, atMs: number): Promise<void> {
  await weighedRide(riderId, ride, { atMs });
}

/** Publish a stage to every phone and say what came of it. */
export async function publish(stageId: string): Promise<string> {
  try {
    const reply = await post<{ published: string[] }>(`/api/stages/${stageId}/publish`, {});
    void exchange();
    return t("staff.plans.published_to", { n: reply.published.length });
  } catch (problem) {
    return problemSentence(problem);
  }
}

export const saveStage = async (stage: Stage): Promise<Stage> => settled(await put<Stage>(`/api/stages/${stage.id}`, stage));

export const sendCourse = async (stageId: string, gpx: Blob, km0Km: number): Promise<Stage> =>
  settled(await postFile<Stage>(`/api/stages/${stageId}/course?km0_km=${km0Km}`, gpx, "application/gpx+xml"));

/** A table of kilometres and heights; `place` is where a road without positions lies, null when the table has its own. */
export const sendProfile = async (stageId: string, table: string, place: { latitudeDeg: number | null; longitudeDeg: number | null } | null): Promise<Stage> => {
  const query = place?.latitudeDeg == null || place.longitudeDeg == null ? "" : `?latitude_deg=${place.latitudeDeg}&longitude_deg=${place.longitudeDeg}`;
  return settled(await postFile<Stage>(`/api/stages/${stageId}/course${query}`, table, "text/csv"));
};

export interface WantedCourse {
  length_km: number;
  gain_m: number;
  latitude_deg: number;
  longitude_deg: number;
}

export const makeCourse = async (stageId: string, wanted: WantedCourse): Promise<Stage> =>
  settled(await post<Stage>(`/api/stages/${stageId}/made-course`, wanted));

/** `timeZone` is where times without an offset were read; null when every time has its own. */
export const sendForecast = async (stageId: string, table: string, timeZone: string | null): Promise<Stage> => {
  const query = timeZone === null ? "" : `?time_zone=${encodeURIComponent(timeZone)}`;
  return settled(await postFile<Stage>(`/api/stages/${stageId}/forecast${query}`, table, "text/csv"));
};

function settled(stage: Stage): Stage {
  void exchange();
  return stage;
}

/** A refusal in words: the field, what was there, and what would be taken. */
export function problemSentence(problem: unknown): string {
  if (!(problem instanceof Problem)) return t("staff.problem.unreachable");
  const values = { field: fieldWord(problem.field), value: String(problem.value ?? ""), limit: problem.limit };
  const said = spoken(`staff.problem.${problem.code}`, values) ?? spoken(`problem.${problem.code}`, values);
  if (said !== null) return said;
  if (values.field === "") return problem.detail === "" ? t("staff.problem.other", { code: problem.code }) : problem.detail;
  const line = /^line (\d+)$/.exec(problem.detail)?.[1];
  return line === undefined ? t("staff.problem.field", values) : t("staff.problem.line", { ...values, line });
}

/** Why an act on people and devices did not happen: only the server can do it. */
export const keysProblem = (problem: unknown): string =>
  problem instanceof Problem && problem.status > 0 ? t("staff.keys.refused", { why: problem.detail }) : t("staff.keys.offline");

/** A record's field as people call it. */
export function fieldWord(field: string): string {
  const last = field.split(/[.[\]]/).filter((part) => part !== "" && !/^\d+$/.test(part)).at(-1) ?? "";
  return spoken(`staff.field.${last}`) ?? last.replaceAll("_", " ");
}
