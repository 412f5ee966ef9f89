import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { shownAt, speedAt } from '../../../ingest/vocabulary/fast-clock.ts';

describe('shownAt', () => {
  test('goes as many times faster as it is told, until it has caught up, and then as the world', () => {
    const clock = { realMs: 1_000_000, shownMs: 400_000, speed: 61 };
    expect(shownAt(clock, 1_000_000)).toBe(400_000);
    expect(shownAt(clock, 1_005_000)).toBe(705_000);
    expect([shownAt(clock, 1_010_000), shownAt(clock, 1_020_000)]).toEqual([1_010_000, 1_020_000]);
    expect([speedAt(clock, 1_005_000), speedAt(clock, 1_020_000)]).toEqual([61, 1]);
  });

  test('never shows the future, and never goes back', () => {
    const times = fc.tuple(
      fc.integer({ min: 0, max: 1e9 }),
      fc.integer({ min: 0, max: 1e9 }),
      fc.integer({ min: 1, max: 60 }),
    );
    fc.assert(
      fc.property(
        times,
        fc.integer({ min: 0, max: 1e8 }),
        fc.integer({ min: 0, max: 1e8 }),
        ([start, behind, speed], a, b) => {
          const clock = { realMs: start, shownMs: start - behind, speed };
          const [early, late] = [start + Math.min(a, b), start + Math.max(a, b)];
          expect(shownAt(clock, late)).toBeLessThanOrEqual(late);
          expect(shownAt(clock, early)).toBeLessThanOrEqual(shownAt(clock, late));
        },
      ),
    );
  });
});
