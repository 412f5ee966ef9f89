import { describe, expect, test } from 'vitest';
import { fitBaseline, type ShareBin } from '../../../ingest/analysis/_share-baseline.ts';
import { factorOf, shareCauses } from '../../../ingest/analysis/_share-causes.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { normals, seeded } from './_share-log.ts';

type Power = (totalW: number) => number;

/** Bins of u1 and u2, u2 giving what `power` says; its meter may read it wrong. */
function bins(count: number, power: Power, { gain = 1, seed = 4, hasBalance = true } = {}): ShareBin[] {
  const normal = normals(seed);
  const random = seeded(seed);
  return Array.from({ length: count }, (_, k) => {
    const realW = 3500 + 6000 * random();
    const second = power(realW);
    const read = second * gain + 0.004 * realW * normal();
    const first = realW - second;
    const balance = [1.03, hasBalance && read > 0 ? (1.03 * second) / read : null];
    return { t: k * HOUR_MS, totalW: first + read, unitW: [first, read], balance, volts: null };
  });
}
const half: Power = (w) => 0.5 * w;
const baseline = fitBaseline(bins(200, half), 8000);
const causesOf = (
  own: ShareBin[],
  law: 'wired' | 'droop' | 'link' | null = 'droop',
  mode: 'grid' | 'backup' = 'backup',
) => shareCauses(baseline, 1, own, mode, law);

describe('shareCauses', () => {
  test.each([
    ['a slope', (w: number) => 0.43 * w, 'feeder_resistance'],
    ['an offset', (w: number) => 0.5 * w - 400, 'setpoint_offset'],
    ['a ceiling at high load', (w: number) => Math.min(0.5 * w, 3300), 'unit_limited'],
    ['nothing', () => 0, 'unit_not_carrying'],
    ['an idle draw', () => -40, 'unit_not_carrying'],
  ])('%s is told from the others over a range of loads', (_, power, cause) => {
    const { causes } = causesOf(bins(24, power, { seed: 9 }));
    expect(causes[0]!.cause).toBe(cause);
    expect(causes[0]!.weight).toBeGreaterThan(0.8);
    expect(causes.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 1);
  });

  test('a meter that reads 1.1 is told by what the unit takes in', () => {
    expect(causesOf(bins(24, half, { gain: 1.1, seed: 9 })).causes[0]!.cause).toBe('measurement_scale');
  });

  test('without that, a meter is a suspicion beside the resistance', () => {
    const { causes } = causesOf(bins(24, (w) => 0.43 * w, { seed: 9, hasBalance: false }));
    const weight = (name: string): number => causes.find(({ cause }) => cause === name)?.weight ?? 0;
    expect(weight('feeder_resistance')).toBeCloseTo(0.8, 1);
    expect(weight('measurement_scale')).toBeCloseTo(0.2, 1);
  });

  test.each([
    ['wired', 'backup'],
    ['link', 'backup'],
    [null, 'grid'],
  ] as const)('%s operation in %s has no setpoint among its causes', (law, mode) => {
    const names = causesOf(
      bins(24, (w) => 0.5 * w - 400, { seed: 9 }),
      law,
      mode,
    ).causes.map(({ cause }) => cause);
    expect(names).not.toContain('setpoint_offset');
  });

  test('the figures are those of the change', () => {
    expect(causesOf(bins(24, (w) => 0.43 * w, { seed: 9 })).factor).toBeCloseTo(0.86, 2);
    expect(Math.abs(causesOf(bins(24, (w) => 0.5 * w - 400, { seed: 9 })).offsetChangeW + 400)).toBeLessThan(40);
    const { ceilingW } = causesOf(bins(24, (w) => Math.min(0.5 * w, 3300), { seed: 9 }));
    expect(Math.abs(ceilingW! - 3300)).toBeLessThan(60);
  });

  test('one bin is enough to say something finite', () => {
    const { causes, factor } = causesOf(bins(1, (w) => 0.4 * w, { seed: 9 }));
    expect(Number.isFinite(factor)).toBe(true);
    expect(causes.every(({ weight }) => weight > 0 && weight <= 1)).toBe(true);
  });
});

test('factorOf a unit that carried nothing when it was proven is 1, not a division by nothing', () => {
  const idle = bins(50, () => 0, { hasBalance: false }).map((bin) => ({ ...bin, unitW: [bin.totalW, 0] }));
  expect(factorOf(fitBaseline(idle, 8000), 1, idle)).toBe(1);
});
