import { ID_RULE, isSiteId, isSourceId, RESERVED_IDS, SOURCE_ID_RULE } from '../vocabulary/ids.ts';
import {
  type Column,
  columnOf,
  SOURCE_KINDS,
  type SourceKind,
  STORED_MAX,
  toStored,
} from '../vocabulary/quantities.ts';
import type { AlarmReading, SettingValue, SourceKey } from '../vocabulary/reading.ts';
import { parseTime, T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';
import { quoteValue } from './quote-value.ts';

/** Why a line is not taken, without its place. */
export interface Fault {
  readonly what: string;
  readonly remedy: string;
}

/** What one log line says. */
export interface LineMeaning {
  readonly source: SourceKey;
  /** Epoch ms. */
  readonly t: number;
  /** Pairs of column index and stored integer, in the order of the line. */
  readonly values: readonly number[];
  readonly extras: Readonly<Record<string, unknown>> | null;
  readonly replaces: boolean;
  readonly revision: number;
  readonly settings: Readonly<Record<string, SettingValue>> | null;
  readonly alarm: Pick<AlarmReading, 'alarm' | 'state'> | null;
}

export type Fields = Readonly<Record<string, unknown>>;

/** How deep lists and objects of a kept key may lie in one another: what is stored must be written out again. */
const DEEPEST_EXTRA = 32;
const SOURCE_WORDS = '"unit", "pack", "bank" or "meter"';

export function isFault(answer: object): answer is Fault {
  return 'remedy' in answer;
}

/**
 * Checks one source key: the form of both ids, and the words that are reserved.
 *
 * @param site  as it stands on the line
 * @param id    of the unit, pack or meter; of a bank always `bank`
 */
export function readSource(site: unknown, kind: SourceKind, id: unknown): SourceKey | Fault {
  if (site === undefined || site === null) return { what: 'the line has no "site"', remedy: 'add the id of the site' };
  if (typeof site !== 'string' || !isSiteId(site)) {
    return { what: `site is ${quoteValue(site)}`, remedy: `give the id of the site as text: ${ID_RULE}` };
  }
  if (kind === 'bank') {
    if (id === 'bank') return { site, kind, id };
    return { what: `bank is ${quoteValue(id)}`, remedy: 'write "bank":"bank": a site has one bank' };
  }
  if (typeof id !== 'string' || !isSourceId(id)) {
    return { what: `${kind} is ${quoteValue(id)}`, remedy: `give the id of the ${kind} as text: ${SOURCE_ID_RULE}` };
  }
  if (RESERVED_IDS.includes(id)) {
    return {
      what: `${kind} is ${quoteValue(id)}`,
      remedy: `give the ${kind} another id: ${RESERVED_IDS.join(' and ')} are reserved`,
    };
  }
  return { site, kind, id };
}

function sourceOf(fields: Fields): SourceKey | Fault {
  const named = SOURCE_KINDS.filter((kind) => fields[kind] !== undefined && fields[kind] !== null);
  const [kind, second] = named;
  if (kind === undefined) return { what: 'the line names no source', remedy: `add ${SOURCE_WORDS} with its id` };
  if (second !== undefined) {
    return {
      what: `the line names both ${kind} and ${second}`,
      remedy: `write one line for each: a line has one of ${SOURCE_WORDS}`,
    };
  }
  return readSource(fields.site, kind, fields[kind]);
}

/** The source that is said elsewhere; a line that names another one beside it is not to be trusted. */
function agreed(fields: Fields, given: SourceKey): SourceKey | Fault {
  for (const [key, expected] of [
    ['site', given.site],
    ...SOURCE_KINDS.map((kind) => [kind, kind === given.kind ? given.id : null]),
  ] as const) {
    const named = fields[key as string] ?? expected;
    if (named !== expected)
      return {
        what: `${key} is ${quoteValue(named)}, but this line comes from ${given.site}, ${given.kind} ${given.id}`,
        remedy: 'leave the key out',
      };
  }
  return given;
}

/** The time of a line: RFC 3339 text, or whole epoch milliseconds. */
export function readTime(t: unknown): number | Fault {
  if (t === undefined || t === null)
    return { what: 'the line has no "t"', remedy: 'add the time of the reading, for example "2026-03-02T06:00:00Z"' };
  const remedy = 'give RFC 3339 with an offset, for example "2026-03-02T06:00:00Z", or whole epoch milliseconds';
  if (typeof t === 'number') {
    if (Number.isSafeInteger(t) && t >= T_MIN_MS && t <= T_MAX_MS) return t + 0;
    return { what: `t is ${quoteValue(t)}`, remedy };
  }
  const parsed = typeof t === 'string' ? parseTime(t) : null;
  return parsed ?? { what: `t is ${quoteValue(t)}`, remedy };
}

/** A value as it is stored, or why it cannot be. */
export function readValue(column: Column, value: unknown): number | Fault {
  const { id, decimals, words, symbol } = column;
  if (words !== null) {
    const at = typeof value === 'string' ? words.indexOf(value) : -1;
    return at >= 0 ? at : { what: `${id} is ${quoteValue(value)}`, remedy: `use one of ${words.join(', ')}` };
  }
  if (typeof value !== 'number') {
    const unit = symbol === '' ? 'a whole number' : `a number in ${symbol}`;
    return {
      what: `${id} is ${quoteValue(value)}`,
      remedy: `give ${unit}, without quotes; leave the key out where nothing was measured`,
    };
  }
  const stored = toStored(decimals, value);
  if (Math.abs(stored) <= STORED_MAX) return stored;
  return {
    what: `${id} is ${quoteValue(value)}`,
    remedy: 'give a number that can be: this one is too large to be kept exactly',
  };
}

function readReplaces(fields: Fields): { replaces: boolean; revision: number } | Fault {
  const replaces = fields.replaces ?? false;
  if (typeof replaces !== 'boolean')
    return { what: `replaces is ${quoteValue(replaces)}`, remedy: 'give true or false, without quotes' };
  const revision = fields.revision ?? 0;
  if (typeof revision !== 'number' || !Number.isSafeInteger(revision) || revision < 0) {
    return { what: `revision is ${quoteValue(revision)}`, remedy: 'give a whole number, 0 or above, without quotes' };
  }
  return { replaces, revision: revision + 0 };
}

/** Only units hold settings that are compared; of another source the key is one outside the vocabulary. */
function readSettings(settings: unknown, kind: SourceKind): Pick<LineMeaning, 'settings'> | Fault {
  if (settings === undefined || settings === null || kind !== 'unit') return { settings: null };
  if (typeof settings !== 'object' || Array.isArray(settings)) {
    return {
      what: `settings is ${quoteValue(settings)}`,
      remedy: 'give an object of keys and values, for example {"battery_type":"lithium"}',
    };
  }
  const kept: [string, SettingValue][] = [];
  for (const [key, value] of Object.entries(settings)) {
    if (value === null) continue;
    if (typeof value === 'string' || typeof value === 'boolean') kept.push([key, value]);
    else if (typeof value === 'number' && Number.isFinite(value)) kept.push([key, value + 0]);
    else
      return {
        what: `settings.${key.slice(0, 60)} is ${quoteValue(value)}`,
        remedy: 'give a text, a number, true or false',
      };
  }
  // fromEntries defines each key as its own, "__proto__" too. Settings that are all absent are none.
  return { settings: kept.length === 0 ? null : Object.fromEntries(kept) };
}

function readAlarm({ alarm, state }: Fields): LineMeaning['alarm'] | Fault {
  if (alarm === undefined || alarm === null) return null;
  if (typeof alarm !== 'string' || alarm === '')
    return { what: `alarm is ${quoteValue(alarm)}`, remedy: "give the alarm's name as text" };
  if (state === 'raised' || state === 'cleared') return { alarm, state };
  const what =
    state === undefined || state === null ? `alarm ${quoteValue(alarm)} has no state` : `state is ${quoteValue(state)}`;
  return { what, remedy: 'add "state":"raised" or "state":"cleared"' };
}

/** Whether lists and objects lie in one another no deeper than `levels`. */
function isShallow(value: unknown, levels: number): boolean {
  if (typeof value !== 'object' || value === null) return true;
  if (levels === 0) return false;
  return Object.values(value).every((inner) => isShallow(inner, levels - 1));
}

const WORDS_OF_A_LINE: ReadonlySet<string> = new Set(['t', 'site', ...SOURCE_KINDS, 'replaces', 'revision', 'alarm']);

/** Whether a key is read elsewhere: `state` means something only beside an alarm, `settings` only of a unit. */
function isReadElsewhere(key: string, kind: SourceKind, hasAlarm: boolean): boolean {
  return WORDS_OF_A_LINE.has(key) || (key === 'settings' && kind === 'unit') || (key === 'state' && hasAlarm);
}

function readValues(
  fields: Fields,
  kind: SourceKind,
  hasAlarm: boolean,
): Pick<LineMeaning, 'values' | 'extras'> | Fault {
  const values: number[] = [];
  const extras: [string, unknown][] = [];
  for (const [key, value] of Object.entries(fields)) {
    if (value === null || value === undefined || isReadElsewhere(key, kind, hasAlarm)) continue;
    const column = columnOf(kind, key);
    if (column === undefined) {
      if (!isShallow(value, DEEPEST_EXTRA)) {
        return {
          what: `${key.slice(0, 60)} lies more than ${DEEPEST_EXTRA} lists or objects deep`,
          remedy: 'send it flatter',
        };
      }
      extras.push([key, Object.is(value, -0) ? 0 : value]);
      continue;
    }
    const stored = readValue(column, value);
    if (typeof stored !== 'number') return stored;
    values.push(column.index, stored);
  }
  return { values, extras: extras.length === 0 ? null : Object.fromEntries(extras) };
}

/**
 * What a log line says: the one place where the meaning of keys is decided, for every format.
 *
 * @param fields  the keys of the line; null and undefined are absent
 * @param given   the source, where it is said elsewhere (a topic, a column map); the line may repeat it, not contradict it
 * @returns the meaning, or why the line is refused as a whole
 */
export function readLine(fields: Fields, given?: SourceKey): LineMeaning | Fault {
  const t = readTime(fields.t);
  if (typeof t !== 'number') return t;
  const source = given === undefined ? sourceOf(fields) : agreed(fields, given);
  if (isFault(source)) return source;
  const order = readReplaces(fields);
  if (isFault(order)) return order;
  const settings = readSettings(fields.settings, source.kind);
  if (isFault(settings)) return settings;
  const alarm = readAlarm(fields);
  if (alarm !== null && isFault(alarm)) return alarm;
  const told = readValues(fields, source.kind, alarm !== null);
  if (isFault(told)) return told;
  return { source, t, ...told, ...order, ...settings, alarm };
}
