import { describe, expect, test } from 'vitest';
import { END_THRESHOLD, stepLevel, stepUp } from '../../../ingest/analysis/_llr-cusum.ts';

const TEST = { shift: 3, threshold: 16 };
const seen = (deviation: number, more = {}) => ({ deviation, scatter: 3, inflation: 1, baselineError: 0, ...more });

describe('stepUp', () => {
  test('adds the log-likelihood ratio of shift against none: δ/σ² · (x − δ/2)', () => {
    expect(stepUp(1, seen(3), TEST)).toBeCloseTo(1 + (3 / 9) * 1.5, 12);
  });

  test('half the shift says neither, no deviation speaks against, and the sum stays at nothing', () => {
    expect(stepUp(1, seen(1.5), TEST)).toBe(1);
    expect(stepUp(1, seen(0), TEST)).toBeLessThan(1);
    expect(stepUp(0, seen(-50), TEST)).toBe(0);
  });

  test('bins that hang together say less, by the inflation', () => {
    expect(stepUp(0, seen(3, { inflation: 4 }), TEST)).toBeCloseTo(stepUp(0, seen(3), TEST) / 4, 12);
  });

  test('twice the baseline’s own error is no deviation', () => {
    expect(stepUp(1, seen(3.5, { baselineError: 1 }), TEST)).toBe(1);
  });

  test('no single observation raises an alarm, however far out', () => {
    let sum = 0;
    for (let k = 0; k < 3; k++) sum = stepUp(sum, seen(1e6, { scatter: 0.01 }), TEST);
    expect(sum).toBeLessThanOrEqual(TEST.threshold);
    expect(stepUp(sum, seen(1e6, { scatter: 0.01 }), TEST)).toBeGreaterThan(TEST.threshold);
  });
});

describe('stepLevel', () => {
  test('is the same ratio the other way round', () => {
    expect(stepLevel(1, seen(0), 3)).toBeCloseTo(1 + (3 / 9) * 1.5, 12);
    expect(stepLevel(0, seen(3), 3)).toBe(0);
  });

  test('ends nothing by one observation', () => {
    expect(stepLevel(0, seen(-1e6), 3)).toBeLessThan(END_THRESHOLD / 3);
  });
});
