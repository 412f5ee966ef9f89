/** Figures, times and durations in words, for a terminal. */
import { DateTime } from 'luxon';
import { DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';

/** '44.0' for 43.96 at one decimal; no minus before a zero. */
export function figure(value: number, decimals: number): string {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace('-', '') : text;
}

/** '28 March 2026', the day in the zone. */
export function dayWords(t: number, zone: string): string {
  return DateTime.fromMillis(t, { zone, locale: 'en-GB' }).toFormat('d LLLL yyyy');
}

/** '2026-03-28 14:05 +01:00', to the minute, with the zone's offset at that time. */
export function minuteWords(t: number, zone: string): string {
  return DateTime.fromMillis(t, { zone, locale: 'en-GB' }).toFormat('yyyy-LL-dd HH:mm ZZ');
}

/** '28 March 2026, 14:05 +01:00' */
export function timeWords(t: number, zone: string): string {
  return DateTime.fromMillis(t, { zone, locale: 'en-GB' }).toFormat('d LLLL yyyy, HH:mm ZZ');
}

/** '45 s', '12 min', '2 h 1 min', '3 d 4 h': the two greatest units. */
export function durationWords(ms: number): string {
  if (ms < MINUTE_MS) return `${Math.round(ms / SECOND_MS)} s`;
  if (ms < HOUR_MS) return `${Math.floor(ms / MINUTE_MS)} min`;
  const [big, small, bigMs, smallMs] =
    ms < DAY_MS ? (['h', 'min', HOUR_MS, MINUTE_MS] as const) : (['d', 'h', DAY_MS, HOUR_MS] as const);
  const rest = Math.floor((ms % bigMs) / smallMs);
  return rest === 0 ? `${Math.floor(ms / bigMs)} ${big}` : `${Math.floor(ms / bigMs)} ${big} ${rest} ${small}`;
}

/** '1 site', '3 sites' */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${count} ${count === 1 ? one : many}`;
}

/** A word of the contract as people read it: 'share drift'. */
export function plainWords(id: string): string {
  return id.replaceAll('_', ' ');
}
