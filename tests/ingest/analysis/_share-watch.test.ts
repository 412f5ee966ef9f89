import { describe, expect, test } from 'vitest';
import type { PowerBin } from '../../../ingest/alignment/power-bins.ts';
import { fitBaseline } from '../../../ingest/analysis/_share-baseline.ts';
import { changedUnit, newWatch, type ShareWatch, watchBin } from '../../../ingest/analysis/_share-watch.ts';
import { DAY_MS, MINUTE_MS } from '../../../ingest/vocabulary/time.ts';
import { at } from './_check.ts';
import { normals } from './_share-log.ts';

const OPTIONS = { shiftPoints: 3, threshold: 16, ratedW: 8000 };
const BIN_MS = 15 * MINUTE_MS;

function bin(t: number, parts: readonly number[], more: Partial<PowerBin> = {}): PowerBin {
  const totalW = 5000 + 2000 * Math.sin(t / 3e6);
  const unitW = parts.map((part) => part * totalW);
  return {
    t,
    endMs: t + BIN_MS,
    mode: 'grid',
    unitW,
    totalW,
    inputW: parts.map(() => null),
    outputV: null,
    minutes: 15,
    ...more,
  };
}

/** Feeds 40 bins a day from 06:00 on. */
function feed(watch: ShareWatch, fromDay: number, days: number, parts: readonly number[], seed = 2) {
  const normal = normals(seed + fromDay);
  let now = watch;
  let ended: ReturnType<typeof watchBin>['ended'] = null;
  for (let day = fromDay; day < fromDay + days; day++)
    for (let k = 0; k < 40; k++) {
      const z = 0.004 * normal();
      const t = at('06:00') + day * DAY_MS + k * BIN_MS;
      const own = parts.map((part, unit) => part + (unit === 0 ? z : -z / (parts.length - 1)));
      const step = watchBin(now, bin(t, own), t + BIN_MS, OPTIONS);
      now = step.watch;
      ended = step.ended ?? ended;
    }
  return { watch: now, ended };
}

describe('watchBin', () => {
  test('learns the first 7 loaded days, and judges from the bin after them on', () => {
    expect(feed(newWatch(2), 0, 7, [0.46, 0.54]).watch.baseline).toBeNull();
    const { watch } = feed(newWatch(2), 0, 8, [0.46, 0.54]);
    expect(watch.baseline).toMatchObject({ bins: 280, from: at('06:00') });
    expect(watch.learning).toEqual([]);
  });

  test('a day with less than an hour of load is no loaded day', () => {
    let watch = newWatch(2);
    for (let day = 0; day < 10; day++)
      for (let k = 0; k < 3; k++)
        ({ watch } = watchBin(watch, bin(at('06:00') + day * DAY_MS + k * BIN_MS, [0.5, 0.5]), 0, OPTIONS));
    expect(watch).toMatchObject({ loadedDays: 0, baseline: null });
  });

  test('in backup the first 120 loaded minutes', () => {
    let watch = newWatch(2);
    for (let k = 0; k < 9; k++)
      ({ watch } = watchBin(watch, bin(at('06:00') + k * BIN_MS, [0.5, 0.5], { mode: 'backup' }), 0, OPTIONS));
    expect(watch.baseline).toMatchObject({ bins: 8 });
  });

  test('opens with the bin that tells, and says which reading closed it', () => {
    const learnt = feed(newWatch(2), 0, 9, [0.46, 0.54]).watch;
    const { open } = feed(learnt, 9, 1, [0.52, 0.48]).watch;
    expect(open).toMatchObject({ unit: 1, sign: -1, start: at('+9 06:00'), form: 'step' });
    expect(open!.detectedAt - at('+9 06:00')).toBeLessThanOrEqual(8 * BIN_MS);
  });

  test('a shift under half the limit never opens, one single wild bin neither', () => {
    const learnt = feed(newWatch(2), 0, 9, [0.46, 0.54]).watch;
    expect(feed(learnt, 9, 20, [0.47, 0.53]).watch.open).toBeNull();
    const wild = watchBin(learnt, bin(at('+9 06:00'), [1, 0]), 0, OPTIONS).watch;
    expect(wild.open).toBeNull();
    expect(feed(wild, 9, 5, [0.46, 0.54]).watch.open).toBeNull();
  });

  test('ends when it is level again, and goes on watching from nothing', () => {
    const learnt = feed(newWatch(2), 0, 9, [0.46, 0.54]).watch;
    const open = feed(learnt, 9, 2, [0.52, 0.48]).watch;
    const { watch, ended } = feed(open, 11, 1, [0.46, 0.54]);
    expect(ended).toMatchObject({ end: at('+11 06:00'), drift: { unit: 1, start: at('+9 06:00') } });
    expect(watch).toMatchObject({ open: null });
    expect(feed(watch, 12, 1, [0.52, 0.48]).watch.open!.start).toBe(at('+12 06:00'));
  });

  test('what leaves the recent bins is kept as sums, so that a state has an end', () => {
    const { watch } = feed(newWatch(2), 0, 60, [0.46, 0.54]);
    expect(watch.recent).toHaveLength(400);
    expect(watch.older.length).toBeGreaterThan(50);
    expect(watch.older.length).toBeLessThanOrEqual(120);
    const bins = watch.older.reduce((sum, slot) => sum + slot.bins, 0);
    expect(bins).toBe(53 * 40 - 400);
  });
});

describe('changedUnit', () => {
  const group = (...parts: readonly number[]) => {
    const bins = Array.from({ length: 60 }, (_, k) => {
      const { totalW, unitW } = bin(k * BIN_MS, parts);
      return { t: k * BIN_MS, totalW, unitW, balance: parts.map(() => null), volts: null };
    });
    return { baseline: fitBaseline(bins, 8000), bins };
  };

  test.each([
    [[-4, 2, 2], 0],
    [[2.1, -4, 1.9], 1],
    [[-1.4, -1.6, 3], 2],
  ])('of three, %j names unit %i: the others mirror it', (means, unit) => {
    const { baseline, bins } = group(1 / 3, 1 / 3, 1 / 3);
    expect(changedUnit(means, baseline, bins)).toBe(unit);
  });

  test('unequal shares mirror by their proven parts', () => {
    const { baseline, bins } = group(0.2, 0.3, 0.5);
    // The first loses 4: the others gain 4 · 3/8 and 4 · 5/8.
    expect(changedUnit([-4, 1.5, 2.5], baseline, bins)).toBe(0);
  });

  test('of two it is the one that carries less', () => {
    const { baseline, bins } = group(0.5, 0.5);
    expect(changedUnit([3, -3], baseline, bins)).toBe(1);
    expect(changedUnit([-3, 3], baseline, bins)).toBe(0);
  });
});
