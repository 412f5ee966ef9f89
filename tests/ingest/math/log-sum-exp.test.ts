import { describe, expect, test } from 'vitest';
import { logSumExp } from '../../../ingest/math/log-sum-exp.ts';

describe('logSumExp', () => {
  test('neither overflows nor underflows', () => {
    expect(logSumExp([1000, 1000])).toBeCloseTo(1000 + Math.LN2, 12);
    expect(logSumExp([-1000, -1000])).toBeCloseTo(-1000 + Math.LN2, 12);
  });
  test('of impossible cases alone is impossible', () =>
    expect(logSumExp([Number.NEGATIVE_INFINITY])).toBe(Number.NEGATIVE_INFINITY));
  test.each([{ values: [] }, { values: [Number.NaN] }, { values: [Number.POSITIVE_INFINITY] }])(
    'refuses $values',
    ({ values }) => {
      expect(() => logSumExp(values)).toThrow(RangeError);
    },
  );
});
