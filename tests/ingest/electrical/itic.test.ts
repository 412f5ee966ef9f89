import { describe, expect, test } from 'vitest';
import { iticVerdict } from '../../../ingest/electrical/itic.ts';

describe('iticVerdict', () => {
  test('nominal voltage is withstood for ever', () =>
    expect(iticVerdict(100, Number.POSITIVE_INFINITY)).toBe('no interruption'));
  test('a longer disturbance is never milder', () => {
    const severity = { 'no interruption': 0, 'may stop': 1, 'may be damaged': 2 };
    for (const pct of [0, 50, 75, 85, 115, 130, 180, 400]) {
      const found = [0.1, 0.5, 1, 2, 3, 10, 20, 100, 500, 1000, 10_000, 20_000].map(
        (ms) => severity[iticVerdict(pct, ms)],
      );
      expect(found).toEqual([...found].sort((a, b) => a - b));
    }
  });
  test('refuses a missing voltage and a duration of 0', () => {
    expect(() => iticVerdict(Number.NaN, 10)).toThrow('voltage NaN %');
    expect(() => iticVerdict(50, 0)).toThrow('duration 0 ms');
  });
});
