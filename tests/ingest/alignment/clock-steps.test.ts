import { describe, expect, test } from 'vitest';
import { farOffsetS } from '../../../ingest/alignment/clock-far.ts';
import { clockOffsets, withoutOffset } from '../../../ingest/alignment/clock-offsets.ts';
import { type ClockStep, clockSteps, nearestDifference } from '../../../ingest/alignment/clock-steps.ts';

const every = (count: number, s: number, fromS = 0): Float64Array =>
  Float64Array.from({ length: count }, (_, i) => (fromS + i * s) * 1000);

describe('clockSteps', () => {
  test('brackets a clean step, and takes neither a ramp nor what has a gap in it', () => {
    const flat = Float64Array.from([100, 100, 100, 1100, 1100, 1100]);
    expect(clockSteps(every(6, 30), flat, 5000, 30)).toEqual([{ from: 60_000, to: 90_000, size: 0.2 }]);
    const ramp = Float64Array.from([100, 400, 700, 1000, 1300, 1600]);
    expect(clockSteps(every(6, 30), ramp, 5000, 30)).toEqual([]);
    const gap = Float64Array.from([100, 100, 100, Number.NaN, 1100, 1100]);
    expect(clockSteps(every(6, 30), gap, 5000, 30)).toEqual([]);
  });
});

const stepAt = (s: number, size = 0.2): ClockStep => ({ from: (s - 30) * 1000, to: s * 1000, size });

describe('nearestDifference', () => {
  test('is that of the nearest step alike, positive where ours is stamped later', () => {
    const others = [stepAt(100, -0.2), stepAt(88), stepAt(160)];
    expect(nearestDifference(stepAt(100), others, 90)).toEqual({ t: 100_000, middleS: 12, halfS: 30 });
    expect(nearestDifference(stepAt(100), [stepAt(500)], 90)).toBeNull();
  });
});

describe('farOffsetS', () => {
  const times = [0, 700, 1900, 2300, 4100, 5000, 7700, 8100, 9900, 12_000, 13_100, 15_500];
  const own = times.map((s, i) => stepAt(s, 0.1 + 0.03 * i));

  test('finds the pattern an hour away, either way', () => {
    const late = own.map(({ from, to, size }) => ({ from: from + 3.6e6, to: to + 3.6e6, size }));
    expect(farOffsetS(late, own, 30)).toBeCloseTo(3600, 0);
    expect(farOffsetS(own, late, 30)).toBeCloseTo(-3600, 0);
  });

  test('says nothing of clocks that agree, nor of too few steps', () => {
    expect(farOffsetS(own, own, 30)).toBeNull();
    expect(farOffsetS(own.slice(0, 5), own, 30)).toBeNull();
  });
});

describe('clockOffsets', () => {
  test('takes the median off, so that of three the odd one stands apart', () => {
    const pairs = [
      { a: 'u1', b: 'u2', offsetS: -20, errorS: 1 },
      { a: 'u2', b: 'u3', offsetS: 20, errorS: 1 },
      { a: 'u1', b: 'u3', offsetS: 0, errorS: 1 },
    ];
    const offsets = clockOffsets(['u1', 'u2', 'u3', 'p1'], pairs);
    expect([...offsets.keys()]).toEqual(['u1', 'u2', 'u3']);
    expect(offsets.get('u2')).toBeCloseTo(20, 3);
    expect(offsets.get('u1')).toBeCloseTo(0, 3);
  });

  test('withoutOffset brings late stamps forward and touches nothing else', () => {
    const day = { id: 'u2', tMs: every(2, 30, 20), columns: new Map() };
    expect([...withoutOffset(day, 20).tMs]).toEqual([0, 30_000]);
    expect(withoutOffset(day, 0)).toBe(day);
  });
});
