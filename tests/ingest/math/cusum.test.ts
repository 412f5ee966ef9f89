import { describe, expect, test } from 'vitest';
import { cusumSignal, cusumStart, cusumStep } from '../../../ingest/math/cusum.ts';

describe('cusumStep', () => {
  test('goes on from a state that was kept as JSON', () => {
    const state = cusumStep(cusumStart(), 2, 0.5);
    expect(cusumStep(JSON.parse(JSON.stringify(state)), 1, 0.5)).toEqual(cusumStep(state, 1, 0.5));
  });
  test('does not write to the state it is given', () => {
    const state = Object.freeze(cusumStart());
    expect(cusumStep(state, 3, 0.5)).toEqual({ hi: 2.5, lo: 0, nHi: 1, nLo: 0 });
  });
  test('mirrored deviations mirror the sums', () => {
    const up = cusumStep(cusumStep(cusumStart(), 2, 0.5), 1, 0.5);
    const down = cusumStep(cusumStep(cusumStart(), -2, 0.5), -1, 0.5);
    expect(down).toEqual({ hi: up.lo, lo: up.hi, nHi: up.nLo, nLo: up.nHi });
  });
  test('refuses a missing value, because a gap is no step', () => {
    expect(() => cusumStep(cusumStart(), Number.NaN, 0.5)).toThrow('deviation NaN is not a finite number');
    expect(() => cusumStep(cusumStart(), 1, -1)).toThrow('allowance -1');
  });
});

describe('cusumStart', () => {
  test('with a head start alarms sooner on a fault that is there from the beginning', () => {
    const stepsTo = (headStart: number): number => {
      let state = cusumStart(headStart);
      for (let n = 1; ; n++) {
        state = cusumStep(state, 1.5, 0.5);
        if (cusumSignal(state, 0.5, 4) !== null) return n;
      }
    };
    expect([stepsTo(0), stepsTo(2)]).toEqual([5, 3]);
  });
  test('refuses a negative head start', () => expect(() => cusumStart(-1)).toThrow('head start -1'));
});

describe('cusumSignal', () => {
  test('is silent on the limit and speaks beyond it', () => {
    expect(cusumSignal({ hi: 4, lo: 0, nHi: 2, nLo: 0 }, 0.5, 4)).toBeNull();
    expect(cusumSignal({ hi: 4.5, lo: 0, nHi: 3, nLo: 0 }, 0.5, 4)).toEqual({
      side: 'high',
      stepsSinceChange: 3,
      shift: 2,
    });
  });
  test('of the low side has a negative shift', () => {
    expect(cusumSignal({ hi: 0, lo: 6, nHi: 0, nLo: 4 }, 0.5, 5)).toEqual({
      side: 'low',
      stepsSinceChange: 4,
      shift: -2,
    });
  });
  test('refuses an interval of 0', () =>
    expect(() => cusumSignal(cusumStart(), 0.5, 0)).toThrow('decision interval 0'));
});
