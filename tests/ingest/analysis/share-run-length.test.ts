/** How often the share test is wrong and how late it is right, by simulation with seeded noise. */
import { describe, expect, test } from 'vitest';
import type { PowerBin, SharingMode } from '../../../ingest/alignment/power-bins.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from '../../../ingest/analysis/_budget.ts';
import { newWatch, type ShareWatch, watchBin } from '../../../ingest/analysis/_share-watch.ts';
import { DAY_MS, MINUTE_MS } from '../../../ingest/vocabulary/time.ts';
import { at } from './_check.ts';
import { normals, seeded } from './_share-log.ts';

const BIN_MS = 15 * MINUTE_MS;
/** Two units, two directions, two modes, one group: as the analyzer counts its tests. */
const THRESHOLD = llrThreshold(FALSE_ALARMS_A_SITE_YEAR.share_drift, (365 * DAY_MS) / BIN_MS, 8);
const OPTIONS = { shiftPoints: 3, threshold: THRESHOLD, ratedW: 8000 };

interface Noise {
  /** Standard deviation of a bin's share, points. */
  readonly sd: number;
  /** Correlation of neighbouring bins. */
  readonly rho: number;
}

interface Stretch {
  readonly seed: number;
  readonly noise: Noise;
  readonly mode: SharingMode;
  readonly days: number;
  readonly isLoaded: (t: number) => boolean;
  readonly shiftPoints?: (t: number) => number;
}

/** Loaded bins of two units that share 46 to 54, with AR(1) noise, as the fold would hand them over. */
function* binsOf({ seed, noise, mode, days, isLoaded, shiftPoints = () => 0 }: Stretch): Generator<PowerBin> {
  const normal = normals(seed);
  const random = seeded(seed + 1);
  let z = normal();
  for (let t = at('00:00'); t < at('00:00') + days * DAY_MS; t += BIN_MS) {
    z = noise.rho * z + Math.sqrt(1 - noise.rho ** 2) * normal();
    if (!isLoaded(t)) continue;
    const totalW = 3500 + 6000 * random();
    const share = 0.46 + (shiftPoints(t) + noise.sd * z) / 100;
    const unitW = [share * totalW, (1 - share) * totalW];
    yield { t, endMs: t + BIN_MS, mode, unitW, totalW, inputW: [null, null], outputV: null, minutes: 15 };
  }
}

const byDay = (t: number): boolean => t % DAY_MS >= DAY_MS / 4 && t % DAY_MS < (3 * DAY_MS) / 4;

/** How many drifts are raised; each is put away, so that the next can be. */
function alarms(stretch: Stretch): number {
  let watch: ShareWatch = newWatch(2);
  let count = 0;
  for (const bin of binsOf(stretch)) {
    ({ watch } = watchBin(watch, bin, bin.endMs, OPTIONS));
    if (watch.open === null) continue;
    count++;
    watch = { ...watch, open: null, up: [0, 0], down: [0, 0] };
  }
  return count;
}

describe('the run length of the share test', () => {
  test.each([
    ['quiet', { sd: 0.3, rho: 0 }, 10],
    ['noisy', { sd: 1, rho: 0.5 }, 20],
    ['noisy and slow to wander', { sd: 1, rho: 0.8 }, 10],
    ['very noisy', { sd: 2, rho: 0.3 }, 10],
  ] as const)(
    'on the grid keeps to the budget where bins are %s',
    (_, noise, years) => {
      let count = 0;
      for (let site = 0; site < years; site++)
        count += alarms({ seed: 100 + site, noise, mode: 'grid', days: 365, isLoaded: byDay });
      expect(count).toBeLessThanOrEqual(Math.ceil(FALSE_ALARMS_A_SITE_YEAR.share_drift * years));
    },
    120_000,
  );

  test('in backup keeps to the budget though its baseline is only two hours long', () => {
    // Forty sites, a two-hour outage every other day for a year.
    const isLoaded = (t: number): boolean => Math.floor(t / DAY_MS) % 2 === 0 && t % DAY_MS >= (22 / 24) * DAY_MS;
    let count = 0;
    for (let site = 0; site < 40; site++)
      count += alarms({ seed: 500 + site, noise: { sd: 1, rho: 0.5 }, mode: 'backup', days: 365, isLoaded });
    expect(count).toBeLessThanOrEqual(Math.ceil(FALSE_ALARMS_A_SITE_YEAR.share_drift * 40));
  }, 120_000);
});

const NOISE: Noise = { sd: 1, rho: 0.5 };

/** Bins from a change to its detection, by the test of the analyzer and by one that knows noise, mean and shift. */
function delays(shift: number, runs: number): { ours: number; oracle: number } {
  let ours = 0;
  let oracle = 0;
  for (let run = 0; run < runs; run++) {
    const changeT = at('+10 06:00');
    const stretch: Stretch = {
      seed: 900 + run,
      noise: NOISE,
      mode: 'grid',
      days: 20,
      isLoaded: byDay,
      shiftPoints: (t) => (t >= changeT ? -shift : 0),
    };
    let watch: ShareWatch = newWatch(2);
    let sum = 0;
    let bins = 0;
    let isSeen = false;
    let isOracleSeen = false;
    // Variance of the mean of many bins over that of independent ones: (1 + ρ)/(1 − ρ).
    const longRun = NOISE.sd ** 2 * ((1 + NOISE.rho) / (1 - NOISE.rho));
    for (const bin of binsOf(stretch)) {
      ({ watch } = watchBin(watch, bin, bin.endMs, OPTIONS));
      const deviation = 46 - (100 * bin.unitW[0]!) / bin.totalW;
      sum = Math.max(0, sum + (shift / longRun) * (deviation - shift / 2));
      if (bin.t < changeT) {
        expect(watch.open).toBeNull();
        continue;
      }
      bins++;
      if (!isOracleSeen && sum > THRESHOLD) {
        isOracleSeen = true;
        oracle += bins;
      }
      if (!isSeen && watch.open !== null) {
        isSeen = true;
        ours += bins;
      }
      if (isSeen && isOracleSeen) break;
    }
    expect(isSeen && isOracleSeen, `run ${run}`).toBe(true);
  }
  return { ours: ours / runs, oracle: oracle / runs };
}

describe('the delay of the share test', () => {
  test.each([
    [3, 2.5],
    [5, 2],
  ])(
    'at a step of %i points is within %f times that of a test that knows noise, mean and shift',
    (shift, times) => {
      const { ours, oracle } = delays(shift, 40);
      expect(oracle).toBeGreaterThan(1);
      expect(ours).toBeLessThanOrEqual(times * oracle);
    },
    120_000,
  );
});
