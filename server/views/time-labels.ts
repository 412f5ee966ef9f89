/** Where the labels of a time axis stand, and what they say: whole days, hours or minutes by the clock of the reader's zone. */
import { DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import { clockText, secondText, shortDayText, yearText, zoneOffsetMs } from './figures.ts';
import type { Saying } from './saying.ts';

const CLOCK_STEPS_MS: readonly number[] = [
  ...[1, 2, 5, 10, 15, 30].map((n) => n * SECOND_MS),
  ...[1, 2, 5, 10, 15, 30].map((n) => n * MINUTE_MS),
  ...[1, 2, 3, 6, 12].map((n) => n * HOUR_MS),
];
const DAY_STEPS: readonly number[] = [1, 2, 7, 14];
const MONTH_STEPS: readonly number[] = [1, 2, 3, 6, 12, 24, 60, 120];
const MONTH_MS = 30.4 * DAY_MS;
/** 1 January 1970 was a Thursday: weeks are counted from the Monday after. */
const MONDAY = 4;

/** The instant at which a clock of the zone shows `localMs` (as if it were UTC). */
function instantOf(localMs: number, zone: string): number {
  const guess = localMs - zoneOffsetMs(localMs, zone);
  return localMs - zoneOffsetMs(guess, zone);
}

function every(stepMs: number, phaseMs: number, from: number, to: number, zone: string): number[] {
  const ticks: number[] = [];
  const first = from + zoneOffsetMs(from, zone) - stepMs;
  for (let local = Math.ceil((first - phaseMs) / stepMs) * stepMs + phaseMs; ; local += stepMs) {
    const t = instantOf(local, zone);
    if (t > to) return ticks;
    if (t >= from) ticks.push(t);
  }
}

function everyMonths(step: number, from: number, to: number, zone: string): number[] {
  const ticks: number[] = [];
  const local = new Date(from + zoneOffsetMs(from, zone));
  const start = local.getUTCFullYear() * 12 + local.getUTCMonth();
  for (let month = Math.floor(start / step) * step; ; month += step) {
    const t = instantOf(Date.UTC(Math.floor(month / 12), month % 12, 1), zone);
    if (t > to) return ticks;
    if (t >= from) ticks.push(t);
  }
}

/**
 * Instants inside [from, to] that a clock of the zone shows as whole: at most about `most` of them.
 * Steps are of the local clock, so that midnight stays midnight when the clock is put forward.
 */
export function timeTicks(from: number, to: number, zone: string, most: number): number[] {
  const wanted = (to - from) / Math.max(1, most);
  if (!(wanted > 0) || !Number.isFinite(wanted)) return [];
  const clock = CLOCK_STEPS_MS.find((step) => step >= wanted);
  if (clock !== undefined) return every(clock, 0, from, to, zone);
  const days = DAY_STEPS.find((step) => step * DAY_MS >= wanted);
  if (days !== undefined) return every(days * DAY_MS, days >= 7 ? MONDAY * DAY_MS : 0, from, to, zone);
  return everyMonths(MONTH_STEPS.find((step) => step * MONTH_MS >= wanted) ?? 240, from, to, zone);
}

/** Longer windows are labelled by days. */
const BY_DAYS_FROM_MS = 3 * DAY_MS;
const BY_YEARS_FROM_MS = 300 * DAY_MS;
const BY_SECONDS_TO_MS = 5 * MINUTE_MS;

export function axisLabeller(from: number, to: number, { words, zone }: Saying): (t: number) => string {
  const day = (t: number): string => shortDayText(t, words.locale, zone);
  if (to - from >= BY_YEARS_FROM_MS) {
    // Where a year begins it is named.
    return (t) => (day(t) === day(Date.UTC(2001, 0, 1, 12)) ? yearText(t, words.locale, zone) : day(t));
  }
  if (to - from >= BY_DAYS_FROM_MS) return day;
  if (to - from <= BY_SECONDS_TO_MS) return (t) => secondText(t, words.locale, zone);
  // Midnight is said as the day that begins.
  return (t) => {
    const clock = clockText(t, words.locale, zone);
    return clock === '00:00' ? day(t) : clock;
  };
}
