/** What a settlement would teach: the twin of server/brinebook/engine/settle/learn.py, held to it by shared vectors. */

import type { Settlement } from "@/protocol/records.ts";

/** A rider's factor on the model's litres, as a log-normal. */
export interface FactorState {
  logMean: number;
  logSd: number;
}

export interface FactorUpdate {
  state: FactorState;
  isRejected: boolean;
}

const MODEL_DAY_LOG_SD = 0.1;
const GATE_SD = 3;

/** The factor after one weighing; one more than three spreads off teaches nothing. `prior` is as of the weighing's day. */
export function updateFactor(prior: FactorState, modelL: number, observedL: number, observedSdL: number): FactorUpdate {
  if (observedL <= 0) return { state: prior, isRejected: true };
  const ratioLog = Math.log(observedL / modelL);
  const noise = (observedSdL / observedL) ** 2 + MODEL_DAY_LOG_SD ** 2;
  const spread = prior.logSd ** 2;
  const surprise = ratioLog - prior.logMean;
  if (Math.abs(surprise) > GATE_SD * Math.sqrt(spread + noise)) return { state: prior, isRejected: true };
  const gain = spread / (spread + noise);
  return { state: { logMean: prior.logMean + gain * surprise, logSd: Math.sqrt((1 - gain) * spread) }, isRejected: false };
}

/** What agreeing on some litres would do; every factor includes the team's offset. */
export interface Preview {
  sweatL: number;
  modelL: number;
  factorBefore: number;
  factorAfter: number;
  factorLow: number;
  factorHigh: number;
  /** How much the next stages' expected loss moves, as a share. */
  nextLossFrac: number;
  deficitL: number;
  verdict: "learns" | "not_believed" | "rejected";
}

const MAX_LOST_FRAC = 0.07;
const MAX_GAINED_FRAC = 0.02;
const BELIEVABLE_RATIO = [0.3, 3] as const;
const NINETY_Z = 1.645;

/** Null while the scales cannot say: a weighing is missing, or the server has not computed this stage yet. */
export function settlementPreview(doc: Settlement | null, drunkL: number): Preview | null {
  const known = knownOf(doc);
  if (doc === null || known === null) return null;
  // The settlement's sweat stands on the litres that counted when it was computed; a litre more drunk is a litre more sweat.
  const sweatL = known.sweatL + drunkL - (doc.agreed_drunk_l ?? doc.proposed_drunk_l);
  const before = Math.exp(known.offset + known.prior.logMean);
  const change = doc.body_mass_change_frac ?? 0;
  const isBelieved = change >= -MAX_LOST_FRAC && change <= MAX_GAINED_FRAC
    && sweatL >= BELIEVABLE_RATIO[0] * known.modelL && sweatL <= BELIEVABLE_RATIO[1] * known.modelL;
  const update = isBelieved
    ? updateFactor(known.prior, known.modelL * Math.exp(known.offset), sweatL, known.sdL)
    : { state: known.prior, isRejected: true };
  const after = Math.exp(known.offset + update.state.logMean);
  const reach = Math.exp(NINETY_Z * update.state.logSd);
  return {
    sweatL, modelL: known.modelL, factorBefore: before, factorAfter: after, factorLow: after / reach, factorHigh: after * reach,
    nextLossFrac: after / before - 1, deficitL: sweatL + (doc.urine_l ?? 0) - drunkL,
    verdict: isBelieved ? (update.isRejected ? "rejected" : "learns") : "not_believed",
  };
}

interface Known {
  sweatL: number;
  sdL: number;
  modelL: number;
  offset: number;
  prior: FactorState;
}

function knownOf(doc: Settlement | null): Known | null {
  const { sweat_loss_l: sweatL, sweat_loss_sd_l: sdL, model_sweat_l: modelL, prior_log_mean: logMean, prior_log_sd: logSd } = doc ?? {};
  if (sweatL == null || sdL == null || modelL == null || logMean == null || logSd == null) return null;
  return { sweatL, sdL, modelL, offset: doc?.prior_offset_log ?? 0, prior: { logMean, logSd } };
}
