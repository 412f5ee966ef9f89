import { describe, expect, test } from 'vitest';
import { apartFromBaseline, fitSocBaseline, type SocHour } from '../../../ingest/analysis/_soc-baseline.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { normals } from './_share-log.ts';

function hours(
  count: number,
  apart: (h: { slowC: number; bankPct: number; k: number }) => number,
  noise = 0.2,
): SocHour[] {
  const normal = normals(8);
  return Array.from({ length: count }, (_, k) => {
    const slowC = 0.1 * Math.sin((k / 12) * Math.PI);
    const bankPct = 65 + 20 * Math.cos((k / 12) * Math.PI);
    const first = apart({ slowC, bankPct, k }) + noise * normal();
    const nothing = [null, null];
    return {
      t: k * HOUR_MS,
      apart: [first, -first],
      bankPct,
      slowC,
      residualPoints: nothing,
      jumpPoints: nothing,
      netAh: nothing,
      currentA: nothing,
      socPct: [bankPct + first, bankPct - first],
    };
  });
}

describe('fitSocBaseline', () => {
  test('learns where a pack is parked, and how that hangs on current and charge', () => {
    const [line] = fitSocBaseline(hours(168, ({ slowC, bankPct }) => 4 + 15 * slowC - 0.05 * (bankPct - 50))).packs;
    expect(line!.level).toBeCloseTo(4, 0);
    expect(Math.abs(line!.byCurrent - 15)).toBeLessThan(3);
    expect(line!.byCharge).toBeCloseTo(-0.05, 1);
  });

  test('what it learnt it takes off', () => {
    const own = hours(168, ({ slowC }) => 4 + 15 * slowC);
    const baseline = fitSocBaseline(own);
    for (const hour of own) expect(Math.abs(apartFromBaseline(baseline, 0, hour))).toBeLessThan(1.5);
    expect(apartFromBaseline(baseline, 0, { ...own[0]!, apart: [own[0]!.apart[0]! + 7, 0] })).toBeGreaterThan(5.5);
  });

  test('a gauge is never read more finely than 0.6 points, and hours always hang together', () => {
    const [line] = fitSocBaseline(hours(168, () => 0, 0)).packs;
    expect(line).toMatchObject({ scatter: 0.6, inflation: 3 });
  });

  test('a swing that nothing explains becomes scatter that hangs together', () => {
    const [line] = fitSocBaseline(hours(168, ({ k }) => 4 * Math.sin((k / 5) * Math.PI))).packs;
    expect(line!.scatter).toBeGreaterThan(2.5);
  });
});
