/**
 * The false-alarm budget: all tests of a site together raise at most 0.1 false alarms a year.
 * Each kind's part stands here, and its threshold is computed from it.
 */
export const FALSE_ALARMS_A_SITE_YEAR = {
  share_drift: 0.03,
  soc_divergence: 0.02,
  pack_not_carrying: 0.01,
  pack_capacity_loss: 0.003,
  clock_offset: 0.004,
  stuck_reading: 0.004,
  cell_spread: 0.004,
  single_unit_grid_loss: 0.002,
  ct_reversed: 0.003,
  circulating_power: 0.003,
  frequency_disagreement: 0.003,
  hunting: 0.003,
} as const;

/**
 * Threshold of a log-likelihood-ratio CUSUM for a wanted rate of false alarms.
 *
 * The chance that such a sum, started anew at 0, reaches h before falling back is at most e^(−h), so the rate of
 * false alarms is at most steps a year × tests × e^(−h). The true rate is lower still.
 *
 * @see G. Lorden, "Procedures for reacting to a change in distribution", Ann. Math. Statist. 42, 1971 (from memory, unverified)
 */
export function llrThreshold(falseAlarmsAYear: number, stepsAYear: number, tests: number): number {
  return Math.log((stepsAYear * tests) / falseAlarmsAYear);
}

/**
 * How many readings in a row a condition has to stand where nothing is summed up, for a wanted rate of false alarms.
 *
 * A run of n begins at any reading with probability at most chance^n, so the rate is at most trials × chance^n.
 *
 * @param chance  of a single reading showing the condition by mistake, 0…1; readings that err together are not covered
 */
export function readingsToHold(falseAlarmsAYear: number, trialsAYear: number, chance: number): number {
  return Math.max(1, Math.ceil(Math.log(trialsAYear / falseAlarmsAYear) / -Math.log(chance)));
}

/** Readings that a source sends in a year. */
export function readingsAYear(sampleIntervalS: number): number {
  return (365 * 86_400) / sampleIntervalS;
}
