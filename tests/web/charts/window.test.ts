import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { LEAST_WINDOW_MS, moved, named, within, zoomed } from '../../../web/charts/window.ts';

const HOUR = 3_600_000;
const WHOLE = { from: 0, to: 24 * HOUR };
const aWindow = fc
  .tuple(fc.integer({ min: -HOUR, max: 25 * HOUR }), fc.integer({ min: 1, max: 30 * HOUR }))
  .map(([from, length]) => ({ from, to: from + length }));

describe('within', () => {
  test('always lies inside the whole and is never shorter than the least', () => {
    fc.assert(
      fc.property(aWindow, (window) => {
        const { from, to } = within(window, WHOLE);
        expect(from).toBeGreaterThanOrEqual(WHOLE.from);
        expect(to).toBeLessThanOrEqual(WHOLE.to);
        expect(to - from).toBeGreaterThanOrEqual(LEAST_WINDOW_MS);
      }),
    );
  });
});

describe('zoomed', () => {
  test('keeps the instant under the hand where it is', () => {
    const window = { from: 6 * HOUR, to: 18 * HOUR };
    const at = 9 * HOUR;
    const nearer = zoomed(window, 0.5, at, WHOLE);
    expect((at - nearer.from) / (nearer.to - nearer.from)).toBeCloseTo(
      (at - window.from) / (window.to - window.from),
      6,
    );
    expect(nearer.to - nearer.from).toBe(6 * HOUR);
  });
  test('ends at the whole however far it is turned', () => {
    expect(zoomed({ from: 6 * HOUR, to: 7 * HOUR }, 1000, 6.5 * HOUR, WHOLE)).toEqual(WHOLE);
  });
});

describe('moved', () => {
  test('keeps its length at the edge of the whole', () => {
    expect(moved({ from: 20 * HOUR, to: 23 * HOUR }, 1, WHOLE)).toEqual({ from: 21 * HOUR, to: 24 * HOUR });
    expect(moved({ from: 1 * HOUR, to: 4 * HOUR }, -1, WHOLE)).toEqual({ from: 0, to: 3 * HOUR });
  });
});

describe('named', () => {
  test('leaves the whole out of the address', () => {
    expect(named(WHOLE, WHOLE)).toBeNull();
    expect(named({ from: 0, to: HOUR }, WHOLE)).toEqual({ from: 0, to: HOUR });
  });
});
