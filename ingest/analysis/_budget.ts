/**
 * The false-alarm budget: all tests of a site together raise at most 0.1 false alarms a year.
 * Each kind's part stands here, and its threshold is computed from it.
 */
export const FALSE_ALARMS_A_SITE_YEAR = {
  share_drift: 0.03,
  soc_divergence: 0.02,
  pack_not_carrying: 0.01,
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
