import { describe, expect, test } from 'vitest';
import { weightsFromLogLikelihoods } from '../../../ingest/math/weights-from-log-likelihoods.ts';

describe('weightsFromLogLikelihoods', () => {
  test('weigh as likelihood times prior, and sum to 1', () => {
    const weights = weightsFromLogLikelihoods([Math.log(0.2), Math.log(0.1)], [1, 3])!;
    expect(weights[0]).toBeCloseTo(0.4, 12);
    expect(weights[1]).toBeCloseTo(0.6, 12);
  });
  test('do not change when all likelihoods are multiplied by one factor', () => {
    const [a, b] = weightsFromLogLikelihoods([-5000, -5001])!;
    expect(a! / b!).toBeCloseTo(Math.E, 10);
  });
  test('an impossible explanation weighs nothing', () =>
    expect(weightsFromLogLikelihoods([0, Number.NEGATIVE_INFINITY])).toEqual([1, 0]));
  test('nothing can be told where every explanation is impossible', () => {
    expect(weightsFromLogLikelihoods([Number.NEGATIVE_INFINITY])).toBeNull();
    expect(weightsFromLogLikelihoods([-1, -2], [0, 0])).toBeNull();
  });
  test('refuse a missing likelihood, a negative prior and unequal lengths', () => {
    expect(() => weightsFromLogLikelihoods([Number.NaN])).toThrow(RangeError);
    expect(() => weightsFromLogLikelihoods([0], [-1])).toThrow('prior weight -1');
    expect(() => weightsFromLogLikelihoods([0], [1, 1])).toThrow('1 likelihoods but 2 prior weights');
  });
});
