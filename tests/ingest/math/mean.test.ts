import { describe, expect, test } from 'vitest';
import { mean } from '../../../ingest/math/mean.ts';

describe('mean', () => {
  test('does not depend on the order of the values', () => {
    const values = Array.from({ length: 1000 }, (_, i) => Math.sin(i) * 10 ** (i % 9));
    expect(mean(values.toReversed())).toBeCloseTo(mean(values), 9);
  });
  test('refuses a missing value instead of giving a healthy figure', () =>
    expect(() => mean([1, Number.NaN])).toThrow(RangeError));
  test('refuses an empty sample', () => expect(() => mean([])).toThrow('needs at least 1 values, got 0'));
});
