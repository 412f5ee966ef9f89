import { describe, expect, test } from 'vitest';
import type { SocHour } from '../../../ingest/analysis/_soc-baseline.ts';
import { type PackFigures, packFigures, socVerdict } from '../../../ingest/analysis/_soc-causes.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';

const AS_BEFORE: PackFigures = { unexplainedPoints: 0, countedPoints: 0, currentShare: 1, swing: 1 };
const figures = (over: Partial<PackFigures> = {}): PackFigures => ({ ...AS_BEFORE, ...over });
const TWO = [AS_BEFORE, AS_BEFORE];
const THREE = [AS_BEFORE, AS_BEFORE, AS_BEFORE];
const weightOf = ({ causes }: ReturnType<typeof socVerdict>, name: string): number =>
  causes.find(({ cause }) => cause === name)?.weight ?? 0;

describe('socVerdict', () => {
  test.each([-40, -8, 8])('a gauge that ran off by %i points is the odd one, and no capacity was lost', (points) => {
    const own = [figures(), figures({ unexplainedPoints: points })];
    const verdict = socVerdict([-points / 2, points / 2], own, TWO);
    expect(verdict.odd).toBe(1);
    expect(weightOf(verdict, 'gauge_error')).toBeGreaterThan(0.9);
    expect(weightOf(verdict, 'capacity_loss')).toBeLessThan(0.03);
  });

  test('a pack whose share of the current fell is not carrying', () => {
    const own = [
      figures({ currentShare: 1.5 }),
      figures({ currentShare: 0.02, swing: null }),
      figures({ currentShare: 1.5 }),
    ];
    const verdict = socVerdict([-10, 20, -10], own, THREE);
    expect(verdict).toMatchObject({ odd: 1, causes: [{ cause: 'pack_not_carrying' }] });
  });

  test('a pack that swings more for the same charge lost capacity: what is unexplained goes with the count', () => {
    const own = [
      figures({ countedPoints: -30 }),
      figures({ swing: 1.35, unexplainedPoints: -10.5, countedPoints: -30 }),
    ];
    const verdict = socVerdict([5, -5], own, TWO);
    expect(verdict.odd).toBe(1);
    expect(weightOf(verdict, 'capacity_loss')).toBeGreaterThan(0.7);
  });

  test('of two packs without currents it can’t be told which', () => {
    const blind = figures({ unexplainedPoints: null, countedPoints: null, currentShare: null, swing: null });
    const verdict = socVerdict([6, -6], [blind, blind], [blind, blind]);
    expect(verdict.odd).toBeNull();
    expect(verdict.causes.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 1);
  });

  test('of three, the one that moved twice as far', () => {
    const verdict = socVerdict([-4, 8, -4], [figures(), figures({ unexplainedPoints: 12 }), figures()], THREE);
    expect(verdict.odd).toBe(1);
  });
});

describe('packFigures', () => {
  const hour = (k: number, more: Partial<SocHour> = {}): SocHour => ({
    t: k * HOUR_MS,
    apart: [0, 0],
    bankPct: 50,
    slowC: 0.1,
    residualPoints: [0, -k],
    jumpPoints: [0, k >= 3 ? -10 : 0],
    netAh: [10 * k, 10 * k],
    currentA: [10, 10],
    socPct: [50, 50],
    ...more,
  });
  const six = [0, 1, 2, 3, 4, 5].map((k) => hour(k));

  test('counts jumps of the gauge among what no current explains', () => {
    expect(packFigures(six, [100, 100]).map((f) => f.unexplainedPoints)).toEqual([0, -15]);
  });

  test('counts from the onset, though hours that old are gone', () => {
    const from = [
      { unexplainedPoints: 5, netAh: -100 },
      { unexplainedPoints: 5, netAh: -100 },
    ];
    const [, second] = packFigures(six, [100, 200], from);
    expect(second).toMatchObject({ unexplainedPoints: -20, countedPoints: -75 });
  });

  test('a share of the current is held against the share of the capacity', () => {
    expect(packFigures(six, [100, 300]).map((f) => f.currentShare)).toEqual([2, 2 / 3]);
  });

  test('charging and discharging count alike', () => {
    const turned = six.map((h) => ({ ...h, currentA: [-10, -10] }));
    expect(packFigures(turned, [100, 100]).map((f) => f.currentShare)).toEqual([1, 1]);
  });

  test('without currents nothing is made up', () => {
    const blind = six.map((h) => ({ ...h, currentA: [null, null], netAh: [0, 0], residualPoints: [0, 0] }));
    expect(packFigures(blind, [100, 100])[0]).toEqual({
      unexplainedPoints: null,
      countedPoints: null,
      currentShare: null,
      swing: null,
    });
  });
});
