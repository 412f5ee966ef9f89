import { DateTime } from 'luxon';
import { parseTime, T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';

/** A time as a column holds it: an instant (epoch ms), or a wall time (ms, counted as if it were UTC) that wants a zone. */
export interface TimeFormat {
  readonly gives: 'instant' | 'wall';
  /** @returns NaN where the text is no such time */
  read(text: string): number;
}

const PARTS: Readonly<Record<string, string>> = {
  yyyy: '(?<year>\\d{4})',
  MM: '(?<month>\\d{2})',
  M: '(?<month>\\d{1,2})',
  dd: '(?<day>\\d{2})',
  d: '(?<day>\\d{1,2})',
  HH: '(?<hour>\\d{2})',
  H: '(?<hour>\\d{1,2})',
  mm: '(?<minute>\\d{2})',
  m: '(?<minute>\\d{1,2})',
  ss: '(?<second>\\d{2})',
  s: '(?<second>\\d{1,2})',
  SSS: '(?<ms>\\d{3})',
};

function inRange(ms: number): number {
  return Number.isSafeInteger(ms) && ms >= T_MIN_MS && ms <= T_MAX_MS ? ms + 0 : Number.NaN;
}

/** Runs of one letter are tokens, the rest stands for itself; null where a token is not a plain number. */
function patternOf(format: string): RegExp | null {
  const names = new Set<string>();
  let source = '';
  for (const [token] of format.matchAll(/([A-Za-z])\1*|[^A-Za-z]/g)) {
    const isLetter = /[A-Za-z]/.test(token);
    const part = isLetter ? PARTS[token] : token.replace(/[\\^$.*+?()[\]{}|/]/g, '\\$&');
    if (part === undefined || token === "'" || (isLetter && names.has(token.charAt(0)))) return null;
    if (isLetter) names.add(token.charAt(0));
    source += part;
  }
  return new RegExp(`^${source}$`);
}

function plainWall(pattern: RegExp): (text: string) => number {
  return (text) => {
    const found = pattern.exec(text)?.groups;
    if (found === undefined) return Number.NaN;
    const [year, month, day] = [Number(found.year), Number(found.month ?? 1), Number(found.day ?? 1)];
    const [hour, minute, second] = [Number(found.hour ?? 0), Number(found.minute ?? 0), Number(found.second ?? 0)];
    const date = new Date(0);
    date.setUTCFullYear(year, month - 1, day);
    if (date.getUTCMonth() !== month - 1 || date.getUTCDate() !== day || hour > 23 || minute > 59 || second > 59)
      return Number.NaN;
    date.setUTCHours(hour, minute, second, Number(found.ms ?? 0));
    return inRange(date.getTime());
  };
}

function epochFormat(factor: number): TimeFormat {
  return {
    gives: 'instant',
    read: (text) => (/^-?\d+(\.\d+)?$/.test(text) ? inRange(Math.round(Number(text) * factor)) : Number.NaN),
  };
}

/** Tokens that hold the offset or the zone itself, outside of quoted text. */
function saysOffset(format: string): boolean {
  return /[Zz]/.test(format.replace(/'[^']*'/g, ''));
}

/**
 * @param format  `rfc3339`, `epoch_ms`, `epoch_s`, or date tokens: dd.MM.yyyy HH:mm:ss. Tokens that are no plain
 *                numbers (MMM, a, ZZ …) are those of luxon, with English names.
 * @returns null where the format says too little: a year, a month and a day at least
 */
export function timeFormat(format: string): TimeFormat | null {
  if (format === 'rfc3339') return { gives: 'instant', read: (text) => parseTime(text) ?? Number.NaN };
  if (format === 'epoch_ms') return epochFormat(1);
  if (format === 'epoch_s') return epochFormat(1000);
  const pattern = patternOf(format);
  if (pattern !== null) {
    const isEnough = /yyyy/.test(format) && /M/.test(format) && /d/.test(format);
    return isEnough ? { gives: 'wall', read: remembered(plainWall(pattern)) } : null;
  }
  if (!/y/.test(format) || !/[ML]/.test(format) || !/d/.test(format)) return null;
  const read = (text: string): number =>
    inRange(DateTime.fromFormat(text, format, { zone: 'utc', locale: 'en' }).toMillis());
  return { gives: saysOffset(format) ? 'instant' : 'wall', read: remembered(read) };
}

/** Neighbouring rows often have the same time: one of each unit. */
function remembered(read: (text: string) => number): (text: string) => number {
  let lastText = '';
  let lastMs = Number.NaN;
  return (text) => {
    if (text !== lastText) {
      lastMs = read(text);
      lastText = text;
    }
    return lastMs;
  };
}
