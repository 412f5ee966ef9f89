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

/** ' from 2 April 2026, 14:18 to 15:09 +02:00'; the day twice only where it is another. */
export function fromToWords(from: number, to: number, zone: string): string {
  const begins = DateTime.fromMillis(from, { zone, locale: 'en-GB' });
  const ends = DateTime.fromMillis(to, { zone, locale: 'en-GB' });
  const isOneDay = begins.hasSame(ends, 'day') && begins.offset === ends.offset;
  if (!isOneDay) return `from ${timeWords(from, zone)} to ${timeWords(to, zone)}`;
  const [first, last] = [begins.toFormat('HH:mm'), ends.toFormat('HH:mm ZZ')];
  return last.startsWith(first)
    ? `on ${timeWords(from, zone)}`
    : `from ${begins.toFormat('d LLLL yyyy, HH:mm')} to ${last}`;
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

/** '12 sites', or '11 of 12 sites' where not all could be looked at. */
export function countedOf(looked: number, asked: number): string {
  return looked === asked ? counted(asked, 'site') : `${looked} of ${counted(asked, 'site')}`;
}

/** A word of the contract as people read it: 'share drift'. */
export function plainWords(id: string): string {
  return id.replaceAll('_', ' ');
}
