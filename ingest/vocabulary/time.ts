import type { Branded } from './ids.ts';

/** Epoch milliseconds, integer, UTC. */
export type EpochMs = Branded<number, 'EpochMs'>;

export const SECOND_MS = 1000;
export const MINUTE_MS = 60_000;
export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;

/** 0001-01-01 and the end of 9999: what RFC 3339 can say. */
export const T_MIN_MS = -62_135_596_800_000;
export const T_MAX_MS = 253_402_300_799_999;

/** The only place where a plain number becomes a time. */
export function epochMs(ms: number): EpochMs {
  if (!Number.isSafeInteger(ms))
    throw new RangeError(`Cannot take ${ms} as a time: expected whole milliseconds since 1970`);
  return ms as EpochMs;
}

/** Midnight UTC at or before t, for any t, before 1970 too. */
export function dayOf(t: number): EpochMs {
  return (Math.floor(t / DAY_MS) * DAY_MS) as EpochMs;
}

/** RFC 3339 with milliseconds and Z, the one form in which times leave Kilter. */
export function formatTime(t: number): string {
  return new Date(t).toISOString();
}

/** 2026-03-02 for a time of that UTC day. */
export function formatDay(t: number): string {
  return new Date(t).toISOString().slice(0, 10);
}

const RFC_3339 = /^(\d{4})-(\d{2})-(\d{2})[Tt ](\d{2}):(\d{2}):(\d{2})(?:\.(\d+))?(?:([Zz])|([+-])(\d{2}):(\d{2}))$/;

/**
 * Reads an RFC 3339 time, with any number of decimals (rounded to the millisecond) and any offset.
 *
 * @returns epoch ms, or null where the text is no such time (a day that does not exist, hour 24, no offset)
 * @see RFC 3339, section 5.6
 */
export function parseTime(text: string): EpochMs | null {
  const m = RFC_3339.exec(text);
  if (m === null) return null;
  const [year, month, day, hour, minute, second] = [m[1], m[2], m[3], m[4], m[5], m[6]].map(Number) as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  const date = new Date(0);
  date.setUTCFullYear(year, month - 1, day);
  if (date.getUTCMonth() !== month - 1 || date.getUTCDate() !== day) return null;
  // RFC 3339 allows a leap second; it becomes the first instant of the next minute.
  if (hour > 23 || minute > 59 || second > 60) return null;
  const offsetHour = Number(m[10] ?? 0);
  const offsetMinute = Number(m[11] ?? 0);
  if (offsetHour > 23 || offsetMinute > 59) return null;
  const fractionMs = m[7] === undefined ? 0 : Math.round(Number(`0.${m[7]}`) * 1000);
  const offsetMs = (m[9] === '-' ? -1 : 1) * (offsetHour * 60 + offsetMinute) * MINUTE_MS;
  const t = date.getTime() + hour * HOUR_MS + minute * MINUTE_MS + second * SECOND_MS + fractionMs - offsetMs;
  return t >= T_MIN_MS && t <= T_MAX_MS ? (t as EpochMs) : null;
}
