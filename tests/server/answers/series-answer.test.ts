import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openStoreToRead } from '../../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../../ingest/store/reading-store.ts';
import { createColumnCache } from '../../../server/answers/column-cache.ts';
import { bucketMs, readAsked, seriesAnswer } from '../../../server/answers/series-answer.ts';
import { at, dropFolder, type LogLine, storeLines } from '../../ingest/commands/_stored.ts';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
let folder = '';
let store: ReadingStore;
beforeAll(() => {
  const lines: LogLine[] = [];
  for (let i = 0; i < 2 * 1440; i++) {
    const t = at('10T00:00:00') + i * MINUTE;
    // Two hours of silence on the first day, one spike of a single reading.
    if (i >= 600 && i < 720) continue;
    lines.push({ t, site: 'millpond', unit: 'u1', output_power_w: i === 700 + 60 ? 9000 : 1000, mode: 'grid' });
  }
  folder = storeLines(lines);
  store = createReadingStore(openStoreToRead(folder));
});
afterAll(() => {
  store.db.close();
  dropFolder(folder);
});

function ask(from: number, to: number, points: number, of = 'unit/u1/output_power_w') {
  const asked = readAsked(store, 'millpond', [of]);
  if ('unknown' in asked) throw new RangeError(asked.unknown);
  const version = { change: 1, people: 0 };
  return seriesAnswer(
    store,
    createColumnCache(store),
    version,
    { site: 'millpond', from, to, points, everyS: 60 },
    asked,
  );
}

describe('seriesAnswer', () => {
  test('every reading where they are few, with a null where nothing was heard', () => {
    const { everyMs, series } = ask(at('10T09:55:00'), at('10T12:05:00'), 100);
    expect(everyMs).toBeNull();
    const [{ t, mean, min }] = series as [(typeof series)[0]];
    expect(t[0]).toBe(at('10T09:55:00'));
    expect(mean.filter((v) => v === null)).toHaveLength(1);
    expect(mean[5]).toBeNull();
    expect(t).toHaveLength(11);
    expect(min).toBeUndefined();
  });

  test('a bucket keeps its least and greatest, so that a spike of one reading is never lost', () => {
    const { everyMs, series } = ask(at('10T00:00:00'), at('11T00:00:00'), 50);
    expect(everyMs).toBe(30 * MINUTE);
    const [{ t, mean, min, max }] = series as [(typeof series)[0]];
    const spike = t.findIndex((start) => start <= at('10T12:40:00') && at('10T12:40:00') < start + 30 * MINUTE);
    expect([min![spike], max![spike]]).toEqual([1000, 9000]);
    expect(mean[spike]).toBeCloseTo(1000 + 8000 / 30, 1);
    // 10:00 to 12:00: four buckets without a reading.
    expect(mean[20]).toBeNull();
    expect(t[21]).toBe(at('10T12:00:00'));
    expect(mean[19]).toBe(1000);
  });

  test('days come from the figures beside the blocks, and are the same', () => {
    const { everyMs, series } = ask(at('01T00:00:00'), at('01T00:00:00') + 100 * DAY, 500);
    expect(everyMs).toBe(DAY);
    const [{ t, mean, max }] = series as [(typeof series)[0]];
    const day = t.indexOf(at('10T00:00:00'));
    expect(max![day]).toBe(9000);
    expect(mean[day]).toBeCloseTo((1319 * 1000 + 9000) / 1320, 1);
    expect(t).not.toContain(at('10T00:00:00') + 2 * DAY);
  });

  test('a source or quantity that was never sent is an empty series, one of no kind is refused', () => {
    expect(ask(0, DAY, 100, 'pack/p9/soc_pct').series[0]!.t).toEqual([]);
    expect(readAsked(store, 'millpond', ['unit/u1/soc_pct'])).toEqual({ unknown: 'unit/u1/soc_pct' });
  });

  test('states come with their words', () => {
    const { series } = ask(at('10T00:00:00'), at('10T00:10:00'), 100, 'unit/u1/mode');
    expect(series[0]!.words?.[series[0]!.mean[0]!]).toBe('grid');
  });
});

describe('bucketMs', () => {
  test('is a length that people read, and never gives more points than asked for, a year by days', () => {
    expect(bucketMs(HOUR, 800)).toBe(5000);
    expect(bucketMs(DAY, 800)).toBe(2 * MINUTE);
    expect(bucketMs(30 * DAY, 800)).toBe(HOUR);
    expect(bucketMs(365 * DAY, 4000)).toBe(DAY);
    expect(bucketMs(3650 * DAY, 800)).toBe(7 * DAY);
  });
});
