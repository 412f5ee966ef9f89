/** Labels of a time axis: days over long windows, clock times over short ones, in the zone of the reader. */
import { DAY_MS, MINUTE_MS } from '../../ingest/vocabulary/time.ts';
import { clockText, secondText, shortDayText } from './figures.ts';
import type { Saying } from './saying.ts';

/** Longer windows are labelled by days. */
const BY_DAYS_FROM_MS = 3 * DAY_MS;
const BY_SECONDS_TO_MS = 5 * MINUTE_MS;

export function axisLabeller(from: number, to: number, { words, zone }: Saying): (t: number) => string {
  if (to - from >= BY_DAYS_FROM_MS) return (t) => shortDayText(t, words.locale, zone);
  if (to - from <= BY_SECONDS_TO_MS) return (t) => secondText(t, words.locale, zone);
  // Midnight is said as the day that begins.
  return (t) => {
    const clock = clockText(t, words.locale, zone);
    return clock === '00:00' ? shortDayText(t, words.locale, zone) : clock;
  };
}
