import { describe, expect, test } from 'vitest';
import { coulombCount, socAfterPct } from '../../../ingest/electrical/coulomb-count.ts';

const H = 3_600_000;

describe('coulombCount', () => {
  test('ten amperes for an hour are ten ampere-hours', () =>
    expect(coulombCount([0, H], [10, 10], H)).toMatchObject({ netAh: 10, dischargedAh: 10, chargedAh: 0 }));
  test('charge and discharge are kept apart, also within one step', () => {
    expect(coulombCount([0, H], [10, -10], H)).toMatchObject({ netAh: 0, dischargedAh: 2.5, chargedAh: 2.5 });
    expect(coulombCount([0, H], [-10, 30], H)).toMatchObject({ netAh: 10, dischargedAh: 11.25, chargedAh: 1.25 });
  });
  test('a gap is not guessed, and its length is told', () => {
    expect(coulombCount([0, H, 5 * H, 6 * H], [1, 1, 1, 1], H)).toEqual({
      netAh: 2,
      dischargedAh: 2,
      chargedAh: 0,
      coveredMs: 2 * H,
      gapMs: 4 * H,
    });
  });
  test('a missing value joins its neighbours only while they are close enough', () => {
    expect(coulombCount([0, 1000, 2000], [1, Number.NaN, 1], 2000)).toMatchObject({ coveredMs: 2000, gapMs: 0 });
    expect(coulombCount([0, 1000, 2000], [1, Number.NaN, 1], 1500)).toMatchObject({ coveredMs: 0, gapMs: 2000 });
  });
  test('parts add up to the whole', () => {
    const t = Array.from({ length: 101 }, (_, i) => 10_000 * i);
    const a = t.map((_, i) => 20 * Math.sin(i / 5));
    const parts = [coulombCount(t.slice(0, 51), a.slice(0, 51), H), coulombCount(t.slice(50), a.slice(50), H)];
    expect(parts[0]!.netAh + parts[1]!.netAh).toBeCloseTo(coulombCount(t, a, H).netAh, 12);
  });
  test('refuses times that fall back, an infinite current, lengths that differ and a longest step of 0', () => {
    expect(() => coulombCount([1, 0], [1, 1], H)).toThrow('at index 1 lies before');
    expect(() => coulombCount([0], [Number.POSITIVE_INFINITY], H)).toThrow(RangeError);
    expect(() => coulombCount([0], [], H)).toThrow('1 times but 0 currents');
    expect(() => coulombCount([], [], 0)).toThrow('longest step 0 ms');
  });
});

describe('socAfterPct', () => {
  test('may begin empty or full', () => {
    expect(socAfterPct(0, -50, 100)).toBe(50);
    expect(socAfterPct(100, 50, 100)).toBe(50);
  });
  test('charging raises it, and it is not cut at 100', () => expect(socAfterPct(90, -20, 100)).toBe(110));
  test('refuses a capacity of 0 and a missing start', () => {
    expect(() => socAfterPct(50, 1, 0)).toThrow('capacity 0 Ah');
    expect(() => socAfterPct(Number.NaN, 1, 100)).toThrow('start NaN %');
  });
});
