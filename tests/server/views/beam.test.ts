import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { beamAngle, beamOfRow, deviationRatio } from '../../../server/views/beam.ts';
import { ENGLISH } from '../../../server/views/english.ts';

const saying = { words: ENGLISH, zone: 'Europe/Lisbon', now: Date.parse('2026-04-14T06:40:00Z') };
const heardAt = saying.now - 5000;
const deviation = { measure: 'share', mode: 'grid', subject: 'u2', then: 0.491, now: 0.44, limit: 0.03 } as const;

describe('the beam', () => {
  test('touches its stop at the limit and never passes 22 degrees', () => {
    expect([beamAngle(0), beamAngle(1), beamAngle(-1), beamAngle(0.5)]).toEqual([0, 12, -12, 6]);
    expect(beamAngle(2)).toBe(17);
    fc.assert(fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (r) => Math.abs(beamAngle(r)) <= 22));
  });

  test('always still moves: a greater deviation is a greater angle', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 1000, noNaN: true }),
        fc.double({ min: 0.01, max: 10, noNaN: true }),
        (r, more) => beamAngle(r + more) > beamAngle(r),
      ),
    );
  });

  test('refuses a figure that is none: a missing number must not look level', () => {
    expect(() => beamAngle(Number.NaN)).toThrow(RangeError);
    expect(() => deviationRatio(0.5, Number.NaN, 0.03)).toThrow(RangeError);
    expect(() => deviationRatio(0.5, 0.5, 0)).toThrow('limit 0');
  });

  test('says the figure with its sign, and of whom', () => {
    expect(beamOfRow({ deviation, because: null, isProven: true, worst: null, heardAt }, saying)).toMatchObject({
      says: 'deviation',
      figure: '\u22125.1',
      of: 'u2, limit 3.0',
      isBeyond: true,
    });
  });

  test('is not drawn where nothing can be said: unproven, silent, a day old', () => {
    const row = {
      deviation: null,
      because: 'five of seven loaded days are in',
      isProven: false,
      worst: null,
      heardAt,
    };
    expect(beamOfRow(row, saying)).toEqual({ says: 'untold', reason: 'unproven', because: row.because });
    const old = { deviation, because: null, isProven: true, worst: null, heardAt: saying.now - 25 * 3_600_000 };
    expect(beamOfRow(old, saying)).toMatchObject({ says: 'untold', reason: 'old figure' });
    expect(beamOfRow({ ...old, heardAt: null }, saying).says).toBe('untold');
  });
});
