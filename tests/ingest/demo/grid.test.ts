import { describe, expect, test } from 'vitest';
import { createGridState, longestOutageMs, planBrownout, planOutages, stepGrid } from '../../../ingest/demo/grid.ts';
import { createPrng } from '../../../ingest/demo/prng.ts';
import { DAY_MS, epochMs, HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { FROM, periodOf, sampleSite } from './_sample-site.ts';

describe('planOutages', () => {
  test('60 days hold 3 to 8 losses of 40 s to 4 h, apart from each other, each with a reconnect time of 60 to 300 s', () => {
    const plan = sampleSite();
    for (let seed = 0; seed < 30; seed++) {
      const outages = planOutages(createPrng(seed, 'outages'), plan, periodOf(60));
      expect(outages.length).toBeGreaterThanOrEqual(3);
      expect(outages.length).toBeLessThanOrEqual(8);
      outages.forEach((o, n) => {
        expect(o.gridBack - o.start).toBeGreaterThanOrEqual(39_000);
        expect(o.gridBack - o.start).toBeLessThanOrEqual(longestOutageMs(plan) + 1000);
        expect(o.end - o.gridBack).toBeGreaterThanOrEqual(60_000);
        expect(o.end - o.gridBack).toBeLessThanOrEqual(300_000);
        expect(Math.min(...o.offsetsMs)).toBe(0);
        expect(Math.max(...o.offsetsMs)).toBeLessThan(1000);
        if (n > 0) expect(o.start - outages[n - 1]!.end).toBeGreaterThan(5 * HOUR_MS);
      });
    }
  });

  test('a planned test and the outages that a fault needs are among them', () => {
    const testAt = epochMs(FROM + 5 * DAY_MS + 9 * HOUR_MS);
    const start = epochMs(FROM + 10 * DAY_MS);
    const plan = sampleSite({ testAt, faults: [{ what: 'overload', addedShare: 0.7, trips: true, start, end: null }] });
    const outages = planOutages(createPrng(1, 'outages'), plan, periodOf(30));
    expect(outages.find((o) => o.occasion === 'test')?.start).toBe(testAt);
    expect(outages.filter((o) => o.start > start).length).toBeGreaterThanOrEqual(3);
  });
});

describe('planBrownout', () => {
  test('a brownout lies an hour clear of every outage and deep enough to be seen', () => {
    const plan = sampleSite({ brownout: true });
    const outages = planOutages(createPrng(2, 'outages'), plan, periodOf(60));
    const brownout = planBrownout(createPrng(2, 'brownout'), plan, periodOf(60), outages);
    expect(brownout).not.toBeNull();
    expect(brownout!.voltageV).toBeLessThan(200);
    for (const o of outages) expect(brownout!.end < o.start || brownout!.start > o.end).toBe(true);
  });
});

describe('stepGrid', () => {
  test('frequency wanders about 50 Hz with a deviation of 0.02, voltage stays between 225 and 238', () => {
    const prng = createPrng(5, 'grid');
    const grid = createGridState(prng);
    let squares = 0;
    const n = 20_000;
    for (let i = 0; i < n; i++) {
      stepGrid(grid, prng, 60);
      squares += (grid.frequencyHz - 50) ** 2;
      expect(grid.voltageV >= 225 && grid.voltageV <= 238).toBe(true);
    }
    expect(Math.sqrt(squares / n)).toBeGreaterThan(0.018);
    expect(Math.sqrt(squares / n)).toBeLessThan(0.022);
  });
});
