/** The one place where figures, times and lengths of time become text. Nothing else calls Intl or toFixed. */
import { columnOf, type QuantityId, SOURCE_KINDS } from '../../ingest/vocabulary/quantities.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';

/** No break between a figure and its unit. */
const NBSP = '\u00a0';
/** Between thousands. */
const NARROW = '\u202f';
const MINUS = '\u2212';
/** Where nothing can be told. */
export const NO_FIGURE = '–';
/** Up to here seconds are said as seconds: "70 s". */
const SECONDS_TO_MS = 100 * SECOND_MS;

/** '44.0' for 43.96 at one decimal; a minus is a minus sign, and none stands before a zero. */
export function figureText(value: number | null, decimals: number): string {
  if (value === null || !Number.isFinite(value)) return NO_FIGURE;
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace('-', '') : text.replace('-', MINUS);
}

/** '+1.8', '−5.1', '0.0' */
export function signedText(value: number, decimals: number): string {
  const text = figureText(value, decimals);
  return value > 0 && Number(value.toFixed(decimals)) !== 0 ? `+${text}` : text;
}

/** '48.71 Hz' */
export function withUnit(value: number | null, decimals: number, symbol: string): string {
  const text = figureText(value, decimals);
  return symbol === '' || text === NO_FIGURE ? text : `${text}${NBSP}${symbol}`;
}

/** '60 463': thousands apart, on one line. */
export function countText(value: number | null): string {
  return figureText(value, 0).replaceAll(/\B(?=(\d{3})+$)/g, NARROW);
}

/** '99.9 %' of a part of 1: never more than is there, so that 100 % is all of it. */
export function partText(part: number): string {
  return withUnit(Math.floor(part * 1000 + 1e-9) / 10, 1, '%');
}

/** A figure on an axis, without decimals that say nothing: '51.5', '50'. */
export function axisText(value: number, decimals: number): string {
  return figureText(Number(value.toFixed(decimals)), Math.min(decimals, decimalsOf(Number(value.toFixed(decimals)))));
}
const decimalsOf = (value: number): number => /\.(\d+)$/.exec(String(value))?.[1]?.length ?? 0;

/** Decimals and unit of a quantity, by its id. */
export function quantityLook(id: QuantityId): {
  readonly decimals: number;
  readonly symbol: string;
  readonly label: string;
} {
  for (const kind of SOURCE_KINDS) {
    const column = columnOf(kind, id);
    if (column !== undefined) return column;
  }
  throw new RangeError(`Cannot show ${id}: no source has such a quantity`);
}

/** 'output_frequency_hz', 48.71 → '48.71 Hz': same decimals wherever a quantity stands. */
export function quantityText(id: QuantityId, value: number | null): string {
  const { decimals, symbol } = quantityLook(id);
  return withUnit(value, decimals, symbol);
}

/** '460 W', '8.54 kW': from a kilowatt on in kilowatts. */
export function powerText(watts: number | null): string {
  if (watts === null || Math.abs(watts) < 1000) return withUnit(watts, 0, 'W');
  return withUnit(watts / 1000, 2, 'kW');
}

/** '+620 W', '−1.16 kW' */
export function signedPowerText(watts: number): string {
  return Math.round(watts) > 0 ? `+${powerText(watts)}` : powerText(watts);
}

/** '920 Wh', '7.05 kWh' */
export function energyText(wattHours: number | null): string {
  if (wattHours === null || Math.abs(wattHours) < 1000) return withUnit(wattHours, 0, 'Wh');
  return withUnit(wattHours / 1000, 2, 'kWh');
}

/** '70 s', '4 min 10 s', '2 h 1 min', '34 h 42 min', '3 d 4 h': the two greatest units. */
export function lengthText(ms: number): string {
  if (ms < SECONDS_TO_MS) return `${Math.round(ms / SECOND_MS)}${NBSP}s`;
  if (ms < HOUR_MS) return twoUnits(ms, 'min', 's', MINUTE_MS, SECOND_MS);
  if (ms < 2 * DAY_MS) return twoUnits(ms, 'h', 'min', HOUR_MS, MINUTE_MS);
  return twoUnits(ms, 'd', 'h', DAY_MS, HOUR_MS);
}

function twoUnits(ms: number, big: string, small: string, bigMs: number, smallMs: number): string {
  const whole = Math.floor(ms / bigMs);
  const rest = Math.floor((ms % bigMs) / smallMs);
  return rest === 0 ? `${whole}${NBSP}${big}` : `${whole}${NBSP}${big} ${rest}${NBSP}${small}`;
}

const formats = new Map<string, Intl.DateTimeFormat>();
function format(locale: string, zone: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = `${locale} ${zone} ${JSON.stringify(options)}`;
  let made = formats.get(key);
  if (made === undefined) {
    made = new Intl.DateTimeFormat(locale, { timeZone: zone, ...options });
    formats.set(key, made);
  }
  return made;
}

const orders = new Map<string, Intl.Collator>();
/** Names as people order them: numbers in them by their size. */
export function nameOrder(locale: string): (a: string, b: string) => number {
  let made = orders.get(locale);
  if (made === undefined) {
    made = new Intl.Collator(locale, { numeric: true });
    orders.set(locale, made);
  }
  return made.compare;
}

/** '19:34' */
export const clockText = (t: number, locale: string, zone: string): string =>
  format(locale, zone, { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(t);

/** '19:34:10' */
export const secondText = (t: number, locale: string, zone: string): string =>
  format(locale, zone, { hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' }).format(t);

/** '28 March'; with the year where it is not that of `now`. */
export function dayText(t: number, locale: string, zone: string, now: number): string {
  const year = format(locale, zone, { year: 'numeric' });
  const options: Intl.DateTimeFormatOptions =
    year.format(t) === year.format(now)
      ? { day: 'numeric', month: 'long' }
      : { day: 'numeric', month: 'long', year: 'numeric' };
  return format(locale, zone, options).format(t);
}

/** '28 Mar', for axes. */
export const shortDayText = (t: number, locale: string, zone: string): string =>
  format(locale, zone, { day: 'numeric', month: 'short' }).format(t);

/** '2026', for axes. */
export const yearText = (t: number, locale: string, zone: string): string =>
  format(locale, zone, { year: 'numeric' }).format(t);

/** 'Sunday' */
export const weekdayText = (t: number, locale: string, zone: string): string =>
  format(locale, zone, { weekday: 'long' }).format(t);

/** 'Sunday 12 April 2026, 19:34' with the zone: the whole time, for hover and print. */
export const fullTimeText = (t: number, locale: string, zone: string): string =>
  format(locale, zone, {
    weekday: 'long',
    day: 'numeric',
    month: 'long',
    year: 'numeric',
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
    hourCycle: 'h23',
    timeZoneName: 'short',
  }).format(t);

/** Days of the calendar from the day of t to that of now, in the zone: 0 today, 1 yesterday. */
export function calendarDaysAgo(t: number, now: number, zone: string): number {
  const day = format('en-CA', zone, { year: 'numeric', month: '2-digit', day: '2-digit' });
  return Math.round((Date.parse(day.format(now)) - Date.parse(day.format(t))) / DAY_MS);
}

/** What a clock in the zone is ahead of UTC at an instant, ms. */
export function zoneOffsetMs(t: number, zone: string): number {
  const clock = format('en-GB', zone, {
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
    hourCycle: 'h23',
  });
  const part = Object.fromEntries(clock.formatToParts(t).map(({ type, value }) => [type, Number(value)]));
  const local = Date.UTC(part.year!, part.month! - 1, part.day!, part.hour!, part.minute!, part.second!);
  return local - Math.floor(t / SECOND_MS) * SECOND_MS;
}

/** Hour of the day in the zone, 0 to 23. */
export const hourOfDay = (t: number, zone: string): number =>
  Number(format('en-GB', zone, { hour: '2-digit', hourCycle: 'h23' }).format(t));
