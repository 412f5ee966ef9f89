import { describe, expect, test } from 'vitest';
import { coulombCount, socAfterPct } from '../../ingest/electrical/coulomb-count.ts';
import { lfpOpenCircuitV, lfpSlopeVPerPct, lfpSocPct } from '../../ingest/electrical/lfp-ocv.ts';
import { isPresent, readColumns } from './_datasets.ts';
import { expectWithin } from './_expect-within.ts';

const README = [
  [0, 2.0102],
  [0.33, 2.4177],
  [1.17, 2.7405],
  [2.67, 2.9299],
  [5.34, 3.0872],
  [8.85, 3.1942],
  [98.33, 3.3511],
  [99.5, 3.418],
  [100, 3.5981],
] as const;
const MEASURED = [
  [10, 3.2029],
  [15, 3.2156],
  [20, 3.2413],
  [30, 3.2778],
  [40, 3.2948],
  [50, 3.2991],
  [60, 3.3032],
  [70, 3.3163],
  [80, 3.3371],
  [90, 3.3411],
  [95, 3.3429],
] as const;

describe('lfpOpenCircuitV: github soorajsunil/Piecewise-Battery-OCV @2d7f782 (MIT), README, breakpoints', () => {
  test.each(README)('at %d %% a cell rests at %d V', (soc, volts) => expectWithin(lfpOpenCircuitV(soc), volts, 5e-5));
  // On the plateau the README's line and the measured points differ by up to 0.5 mV at this breakpoint.
  test('at 29.72 % a cell rests at 3.2772 V', () => expectWithin(lfpOpenCircuitV(29.72), 3.2772, 5e-4));
});

describe('lfpOpenCircuitV: the same repository, measured points, interpolated', () => {
  test.each(MEASURED)('at %d %% a cell rests at %d V', (soc, volts) => expectWithin(lfpOpenCircuitV(soc), volts, 5e-5));
  test('16 cells in series rest at 52.79 V at half charge', () => expectWithin(16 * lfpOpenCircuitV(50), 52.79, 0.005));
  test('between 40 and 60 % a point is 0.418 mV a cell, 6.7 mV for 16 in series', () => {
    const slope = (lfpOpenCircuitV(60) - lfpOpenCircuitV(40)) / 20;
    expectWithin(1000 * slope, 0.418, 5e-3);
    expectWithin(16_000 * slope, 6.7, 0.05);
    expectWithin((lfpSlopeVPerPct(45) + lfpSlopeVPerPct(55)) / 2, slope, 1e-12);
  });
  test('between 30 and 90 % a point is 1.054 mV a cell', () =>
    expectWithin((1000 * (lfpOpenCircuitV(90) - lfpOpenCircuitV(30))) / 60, 1.054, 2e-3));
  const file = 'lfp-pseudo-ocv-600pt.csv';
  test.runIf(isPresent(file))(
    'all 600 points lie within 7 mV of it from 10 to 98 %, and within 21 mV from 1.5 % to 99.5 %',
    () => {
      const columns = readColumns(file);
      const volts = columns.get('ocv_v')!;
      for (const [i, fraction] of columns.get('soc_fraction')!.entries()) {
        if (fraction < 0.015 || fraction > 0.995) continue;
        expectWithin(lfpOpenCircuitV(100 * fraction), volts[i]!, fraction > 0.1 && fraction < 0.98 ? 7e-3 : 21e-3);
      }
    },
  );
});

describe('lfpSocPct: derived, the inverse of lfpOpenCircuitV', () => {
  test('a voltage leads back to its state of charge', () => {
    for (let soc = 0; soc <= 100; soc += 0.5) expectWithin(lfpSocPct(lfpOpenCircuitV(soc)), soc, 1e-9);
  });
  test('beyond the curve it is empty or full', () => {
    expect([lfpSocPct(1.9), lfpSocPct(3.7)]).toEqual([0, 100]);
  });
});

const day = Float64Array.from({ length: 8641 }, (_, i) => 10_000 * i);

describe('coulombCount and socAfterPct: derived, drift a day = 24·I_offset/C', () => {
  test('an offset of 100 mA on 100 Ah is 2.4 % a day', () => {
    const { netAh, coveredMs, gapMs } = coulombCount(
      day,
      day.map(() => 0.1),
      60_000,
    );
    expectWithin(100 - socAfterPct(100, netAh, 100), 2.4, 1e-9);
    expect({ coveredMs, gapMs }).toEqual({ coveredMs: 86_400_000, gapMs: 0 });
  });
});

describe('socAfterPct: derived, 62 Ah for 95 → 30 % is a capacity of 95.38 Ah', () => {
  test('62 Ah out of 95.38 Ah takes 95 % to 30 %', () => expectWithin(socAfterPct(95, 62, 95.38), 30, 4e-3));
});
