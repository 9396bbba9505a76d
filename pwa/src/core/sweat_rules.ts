/**
 * The limits a sweat day is judged by. Each has the name and the value of the constant in
 * server/brinebook/engine/constants/sweat.py; a test of the house compares them one by one.
 */

export const SWEAT_RULES = {
  LOCAL_RATE_MIN_MG_PER_CM2_MIN: 0.1,
  LOCAL_RATE_LOW_MG_PER_CM2_MIN: 0.25,
  LOCAL_RATE_HIGH_MG_PER_CM2_MIN: 2.5,
  FIRST_SWEAT_MIN: 20,
  STORED_FRESH_DAYS: 1,
  STORED_MAX_DAYS: 7,
  SODIUM_LOW_MMOL_PER_L: 7,
  SODIUM_HIGH_MMOL_PER_L: 105,
  SODIUM_REPEAT_MMOL_PER_L: 120,
  SODIUM_IMPOSSIBLE_MMOL_PER_L: 140,
  PAIR_ACCEPT_FRAC: 0.25,
  PAIR_ACCEPT_MMOL_PER_L: 6,
  PAIR_REJECT_FRAC: 0.4,
  SLOPE_LOW_MV_PER_DECADE: 52,
  SLOPE_HIGH_MV_PER_DECADE: 62,
  CALIBRATION_LOW_MMOL_PER_L: 10,
  CALIBRATION_HIGH_MMOL_PER_L: 100,
  CALIBRATION_SAMPLES_N: 10,
  CONTROL_ACCEPT_FRAC: 0.05,
  CONTROL_STOP_FRAC: 0.1,
} as const;

/** Two spans of control solutions [mmol/L], compared with the engine's in the same test. */
export const CONTROL_SPANS = { CONTROL_LOW_MMOL_PER_L: [20, 30], CONTROL_HIGH_MMOL_PER_L: [80, 90] } as const;
