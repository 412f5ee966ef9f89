import { describe, expect, test } from 'vitest';
import { type DayHead, loneFirsts, setAsideReadings } from '../../../ingest/alignment/set-aside.ts';
import { DAY_MS, HOUR_MS } from '../../../ingest/vocabulary/time.ts';

const single = (t: number, source = 1): DayHead => ({
  source,
  day: Math.floor(t / DAY_MS) * DAY_MS,
  readings: 1,
  tFirst: t,
  tLast: t,
});

describe('setAsideReadings', () => {
  test('a reading alone in time is set aside', () => {
    expect(setAsideReadings([single(10 * DAY_MS), single(20 * DAY_MS, 2)])).toEqual([
      { source: 1, t: 10 * DAY_MS },
      { source: 2, t: 20 * DAY_MS },
    ]);
  });

  test.each([
    ['exactly 48 h before it', 48 * HOUR_MS, []],
    ['a millisecond longer before it', 48 * HOUR_MS + 1, [1, 2]],
  ])('another reading %s', (_, apartMs, aside) => {
    const t = 10 * DAY_MS + 5 * HOUR_MS;
    expect(setAsideReadings([single(t + apartMs, 2), single(t)]).map(({ source }) => source)).toEqual(aside);
  });

  test('two readings of one day keep each other, of whatever source', () => {
    expect(setAsideReadings([single(10 * DAY_MS), single(10 * DAY_MS + 23 * HOUR_MS, 2)])).toEqual([]);
  });

  test('of a fuller day the nearer end decides', () => {
    const full: DayHead = { source: 2, day: 8 * DAY_MS, readings: 9, tFirst: 8 * DAY_MS, tLast: 8 * DAY_MS + HOUR_MS };
    expect(setAsideReadings([full, single(10 * DAY_MS + HOUR_MS)])).toEqual([]);
    expect(setAsideReadings([full, single(10 * DAY_MS + HOUR_MS + 1)])).toHaveLength(1);
  });

  test('nothing of nothing', () => {
    expect(setAsideReadings([])).toEqual([]);
  });
});

describe('loneFirsts', () => {
  test('the first reading ever, and the first after more than 48 h without any, stood alone as they came', () => {
    const hours = [0, 1, 49, 97.5].map((h) => single(10 * DAY_MS + h * HOUR_MS));
    expect(loneFirsts(hours).map(({ tFirst }) => (tFirst - 10 * DAY_MS) / HOUR_MS)).toEqual([0, 97.5]);
  });

  test('two sources read at one instant keep each other', () => {
    expect(loneFirsts([single(0), single(0, 2)])).toEqual([]);
  });
});
