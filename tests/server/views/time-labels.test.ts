import { describe, expect, test } from 'vitest';
import { clockText, shortDayText } from '../../../server/views/figures.ts';
import { timeTicks } from '../../../server/views/time-labels.ts';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const ZONE = 'Europe/Vienna';
const clocks = (ticks: readonly number[], zone = ZONE): string[] => ticks.map((t) => clockText(t, 'en-GB', zone));

describe('timeTicks', () => {
  test('stand at whole hours of the zone, whatever the zone of the reader', () => {
    const from = Date.UTC(2026, 3, 12, 17, 10);
    expect(clocks(timeTicks(from, from + 4 * HOUR, ZONE, 5))).toEqual(['20:00', '21:00', '22:00', '23:00']);
    expect(clocks(timeTicks(from, from + 4 * HOUR, 'Asia/Kathmandu', 5), 'Asia/Kathmandu')).toEqual([
      '23:00',
      '00:00',
      '01:00',
      '02:00',
    ]);
  });

  test('days begin at midnight on both sides of a change of the clock', () => {
    // Clocks go forward on 29 March 2026 and back on 25 October 2026.
    for (const day of [Date.UTC(2026, 2, 27), Date.UTC(2026, 9, 23)]) {
      const ticks = timeTicks(day, day + 5 * DAY, ZONE, 6);
      expect(ticks).toHaveLength(5);
      expect(new Set(clocks(ticks))).toEqual(new Set(['00:00']));
    }
  });

  test('hours of a day on which one is left out stay whole', () => {
    const from = Date.UTC(2026, 2, 28, 23);
    expect(clocks(timeTicks(from, from + 23 * HOUR, ZONE, 8))).toEqual([
      '00:00',
      '03:00',
      '06:00',
      '09:00',
      '12:00',
      '15:00',
      '18:00',
      '21:00',
      '00:00',
    ]);
  });

  test('weeks begin on Mondays, months on their first, and never more than asked for by much', () => {
    const from = Date.UTC(2026, 0, 1);
    const weeks = timeTicks(from, from + 42 * DAY, ZONE, 7);
    expect(weeks.map((t) => shortDayText(t, 'en-GB', ZONE))).toEqual([
      '5 Jan',
      '12 Jan',
      '19 Jan',
      '26 Jan',
      '2 Feb',
      '9 Feb',
    ]);
    const months = timeTicks(from, from + 365 * DAY, ZONE, 13);
    expect(months.map((t) => shortDayText(t, 'en-GB', ZONE)).slice(0, 3)).toEqual(['1 Feb', '1 Mar', '1 Apr']);
    for (const most of [2, 5, 9, 14]) {
      for (const length of [60_000, HOUR, DAY, 9 * DAY, 100 * DAY, 4000 * DAY])
        expect(timeTicks(from, from + length, ZONE, most).length).toBeLessThanOrEqual(most + 2);
    }
  });
});
