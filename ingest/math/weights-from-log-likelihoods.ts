import { logSumExp } from './log-sum-exp.ts';

/**
 * Posterior weights of competing explanations from the log likelihood of the data under each.
 *
 * @param logLikelihoods  natural logarithms, one an explanation; −Infinity = impossible; NaN is refused
 * @param priorWeights    weights beforehand, same length, each at least 0, not all 0; equal where absent
 * @returns weights that sum to 1, same order; null where every explanation is impossible
 * @throws RangeError  if there is none, the lengths differ, a likelihood is NaN or +Infinity, or a prior is not at least 0
 * @see derived: Bayes' rule
 */
export function weightsFromLogLikelihoods(
  logLikelihoods: readonly number[],
  priorWeights?: readonly number[],
): number[] | null {
  if (priorWeights !== undefined && priorWeights.length !== logLikelihoods.length) {
    throw new RangeError(
      `Cannot weigh explanations: ${logLikelihoods.length} likelihoods but ${priorWeights.length} prior weights`,
    );
  }
  const joint = logLikelihoods.map((logLikelihood, i) => {
    const prior = priorWeights === undefined ? 1 : priorWeights[i]!;
    if (!(prior >= 0 && prior < Number.POSITIVE_INFINITY))
      throw new RangeError(`Cannot weigh explanations: prior weight ${prior} is not at least 0`);
    return logLikelihood + Math.log(prior);
  });
  const total = logSumExp(joint);
  return total === Number.NEGATIVE_INFINITY ? null : joint.map((value) => Math.exp(value - total));
}
