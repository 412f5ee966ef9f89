import { describe, expect, test } from 'vitest';
import { deviationOf, fitBaseline, type ShareBin } from '../../../ingest/analysis/_share-baseline.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { normals, seeded } from './_share-log.ts';

/** Bins of two units about P1 = offset + slope · P. */
function bins(
  count: number,
  over: {
    offset?: number;
    slope?: number;
    points?: number;
    load?: number;
    spread?: number;
    rho?: number;
    seed?: number;
  } = {},
): ShareBin[] {
  const { offset = 0, slope = 0.46, points = 0.5, load = 5000, spread = 3000, rho = 0, seed = 1 } = over;
  const normal = normals(seed);
  const random = seeded(seed);
  let z = 0;
  return Array.from({ length: count }, (_, k) => {
    z = rho * z + Math.sqrt(1 - rho * rho) * normal();
    const totalW = load + spread * (random() - 0.5);
    const first = offset + slope * totalW + (points / 100) * totalW * z;
    return { t: k * HOUR_MS, totalW, unitW: [first, totalW - first], balance: [1.05, null], volts: null };
  });
}

describe('fitBaseline', () => {
  test('finds slope and offset over a range of loads', () => {
    const [line] = fitBaseline(bins(300, { offset: 200, spread: 6000 }), 8000).lines;
    expect(line!.slope).toBeCloseTo(0.46, 2);
    expect(Math.abs(line!.offsetW - 200)).toBeLessThan(60);
  });

  test('at one load only it says a share, and no wild offset', () => {
    const [line] = fitBaseline(bins(200, { spread: 4 }), 8000).lines;
    expect(line!.slope).toBeCloseTo(0.46, 1);
    expect(Math.abs(line!.offsetW)).toBeLessThan(200);
    expect(line!.offsetW + line!.slope * 5000).toBeCloseTo(2300, -1);
  });

  test('scatter is that of the bins, never under 0.3 points', () => {
    const noisy = fitBaseline(bins(400, { points: 1 }), 8000);
    expect(deviationOf(noisy, 0, 5000, 2300).scatterPoints).toBeCloseTo(1, 0);
    const perfect = fitBaseline(bins(400, { points: 0 }), 8000);
    expect(deviationOf(perfect, 0, 5000, 2300).scatterPoints).toBeGreaterThanOrEqual(0.3);
  });

  test('bins that hang together are found to say less', () => {
    expect(fitBaseline(bins(600, { rho: 0.7 }), 8000).lines[0]!.inflation).toBeGreaterThan(2.5);
    expect(fitBaseline(bins(600), 8000).lines[0]!.inflation).toBeLessThan(2);
    expect(fitBaseline(bins(8), 8000).lines[0]!.inflation).toBeGreaterThanOrEqual(2);
  });

  test('a balance is learnt where there is one, and absent where there is none', () => {
    const { lines } = fitBaseline(bins(20), 8000);
    expect(lines[0]!.balance!.mean).toBeCloseTo(1.05, 9);
    expect(lines[1]!.balance).toBeNull();
  });

  test.each([2, 8, 50])('%i bins, all alike, give only finite figures', (count) => {
    const alike = bins(count, { points: 0, spread: 0 });
    for (const line of fitBaseline(alike, 8000).lines) {
      const { offsetW, slope, fixedW2, relative2, inflation } = line;
      for (const figure of [offsetW, slope, fixedW2, relative2, inflation]) expect(figure).toSatisfy(Number.isFinite);
    }
    expect(deviationOf(fitBaseline(alike, 8000), 0, 9000, 4140).linePoints).toBeGreaterThan(0);
  });
});

describe('deviationOf', () => {
  const baseline = fitBaseline(bins(300), 8000);

  test('is in points of the total, positive where the unit carries more', () => {
    const line = baseline.lines[0]!;
    const proven = line.offsetW + line.slope * 6000;
    expect(deviationOf(baseline, 0, 6000, proven + 180).points).toBeCloseTo(3, 9);
    expect(deviationOf(baseline, 0, 6000, proven - 180).points).toBeCloseTo(-3, 9);
  });

  test('the line is less sure away from the loads that were proven, and with fewer bins', () => {
    const near = deviationOf(baseline, 0, 5000, 2300).linePoints;
    expect(deviationOf(baseline, 0, 12_000, 5520).linePoints).toBeGreaterThan(2 * near);
    expect(deviationOf(fitBaseline(bins(8), 8000), 0, 5000, 2300).linePoints).toBeGreaterThan(3 * near);
  });
});
