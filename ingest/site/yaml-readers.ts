/**
 * Readers of located values. A reader gives the value, or undefined once it has added what is wrong
 * to the reading's refusals: so a table of readers finds every mistake of a document in one go.
 */
import { isMap, isScalar, isSeq, type Node } from 'yaml';
import { dayOf, type EpochMs, epochMs, formatDay, parseTime } from '../vocabulary/time.ts';
import { nearestWord } from './nearest-word.ts';
import { type At, at, refuse, refuseMissing, show, textOf, warn } from './yaml-reading.ts';

export type Reader<T> = (value: At) => T | undefined;

/** How a key of a map is read, and what is done where it is missing or empty. */
export interface Field<T> {
  readonly read: Reader<T>;
  readonly missing: (map: At, key: string, noun: string) => T | undefined;
}
type Read<F> = { readonly [Key in keyof F]: F[Key] extends Field<infer T> ? T : never };

/** @param example how the line may read: 'rated_power_w: 8000' */
export function required<T>(read: Reader<T>, example: string): Field<T> {
  return {
    read,
    missing: (map, key, noun) => refuseMissing(map, `this ${noun} has no ${key}`, `add it, for example ${example}`),
  };
}

/** Without a word where it is missing. */
export function optional<T, F>(read: Reader<T>, fallback: F): Field<T | F> {
  return { read, missing: () => fallback };
}

/** Read as the fallback where it is missing, with a warning that says so. */
export function assumed<T>(read: Reader<T>, fallback: T, shown: string = String(fallback)): Field<T> {
  return {
    read,
    missing: (map, key, noun) => {
      warn(map, `this ${noun} has no ${key}; it is read as ${shown}`, `add ${key}`);
      return fallback;
    },
  };
}

/** A list of keys in a message is read up to about this many. */
const KEYS_SHOWN = 10;

function sayUnknownKey(key: At, known: readonly string[], noun: string): void {
  if (key.name === '<<') {
    refuse(key, '<< is not read', 'write the keys out');
    return;
  }
  // In { length_m: 6,5 } the comma ends the value: 6 is read, and 5 is a key without a value.
  if (/^\d+$/.test(key.name) && key.node === null) {
    refuse(key, `${key.name} stands alone behind a comma`, 'write a decimal point: 6.5, not 6,5');
    return;
  }
  const nearest = nearestWord(key.name, known);
  const others = known.length > KEYS_SHOWN ? 'leave it out' : `leave it out, or use one of ${known.join(', ')}`;
  warn(key, `${key.name} is no key of a ${noun}`, nearest === null ? others : `did you mean ${nearest}?`);
}

/**
 * A map with known keys. Every field is read, whatever became of the others.
 *
 * @param noun what a message calls the map: 'unit'
 */
export function shape<F extends Readonly<Record<string, Field<unknown>>>>(noun: string, fields: F): Reader<Read<F>> {
  const known = Object.keys(fields);
  const keys = `${known.slice(0, KEYS_SHOWN).join(', ')}${known.length > KEYS_SHOWN ? ' …' : ''}`;
  return (value) => {
    if (!isMap(value.node)) return refuse(value, `${value.name} is ${show(value.node)}`, `write a map with ${keys}`);
    const read = new Map<string, unknown>();
    for (const pair of value.node.items) {
      const name = isScalar(pair.key) ? (textOf(pair.key) ?? '') : '';
      const path = value.path === '' ? name : `${value.path}.${name}`;
      const keyOffset = isScalar(pair.key) ? (pair.key.range?.[0] ?? value.offset) : value.offset;
      const field = Object.hasOwn(fields, name) ? fields[name] : undefined;
      if (field === undefined)
        sayUnknownKey({ ...value, node: pair.value as Node | null, offset: keyOffset, path, name }, known, noun);
      else {
        const child = at(value.reading, pair.value, { path, name, offset: keyOffset });
        const isEmpty = isScalar(child.node) && child.node.value === null;
        // An empty value counts as missing; the mistake of an alias without an anchor is said already.
        if (!isEmpty && pair.value !== null) read.set(name, child.node === null ? undefined : field.read(child));
      }
    }
    for (const key of known) if (!read.has(key)) read.set(key, fields[key]?.missing(value, key, noun));
    // In the table's order, not the file's: equal records are then equal as JSON.
    const entries = known.map((key) => [key, read.get(key)] as const);
    if (entries.some(([, found]) => found === undefined)) return undefined;
    return Object.fromEntries(entries) as Read<F>; // Each key of `fields` was read by its own reader just above.
  };
}

/** A list; every element is read. */
export function list<T>(
  read: Reader<T>,
  { noun, least = 0 }: { readonly noun: string; readonly least?: number },
): Reader<readonly T[]> {
  return (value) => {
    if (!isSeq(value.node))
      return refuse(value, `${value.name} is ${show(value.node)}`, `write a list, one "- " a ${noun}`);
    const elements = value.node.items.map((node, i) => {
      const element = at(value.reading, node, {
        path: `${value.path}[${i}]`,
        name: `${noun} ${i + 1}`,
        offset: value.offset,
      });
      return element.node === null ? undefined : read(element);
    });
    if (elements.length < least)
      return refuse(value, `${value.name} is an empty list`, `name at least ${least} ${noun}`);
    const sound = elements.filter((element) => element !== undefined);
    return sound.length === elements.length ? sound : undefined;
  };
}

export interface NumberRule {
  /** Symbol for messages: 'W'; empty for a plain number. */
  readonly unit: string;
  readonly example: number;
  /** Exclusive lower limit. */
  readonly above?: number;
  /** Inclusive limits. */
  readonly from?: number;
  readonly to?: number;
  readonly isWhole?: boolean;
  /** Outside these it is taken, with a warning: a slip of the unit is likelier than such a figure. */
  readonly likely?: readonly [number, number];
}

function sayRange({ unit, above, from, to, isWhole = false }: NumberRule): string {
  const number = `a ${isWhole ? 'whole ' : ''}number${unit === '' ? '' : ` in ${unit}`}`;
  if (above !== undefined) return `${number} above ${above}`;
  if (from !== undefined && to !== undefined) return `${number} from ${from} to ${to}`;
  return from === undefined ? number : `${number} from ${from}`;
}

/** '8000', '6,5' and '8 kW' are texts in YAML: say how the number is written. */
function numberRemedy(text: string, rule: NumberRule): string {
  const comma = /^\s*(-?\d+),(\d{1,2})\s*$/.exec(text);
  if (comma !== null) return `write ${comma[1]}.${comma[2]}, with a decimal point`;
  if (text.trim() !== '' && Number.isFinite(Number(text))) return `write it without quotes: ${text.trim()}`;
  return `write ${sayRange(rule)} without unit or quotes, for example ${rule.example}`;
}

export function number(rule: NumberRule): Reader<number> {
  return (value) => {
    const found = isScalar(value.node) ? value.node.value : undefined;
    const says = `${value.name} is ${show(value.node)}`;
    if (typeof found !== 'number')
      return refuse(value, says, numberRemedy(typeof found === 'string' ? found : '', rule));
    const {
      above = Number.NEGATIVE_INFINITY,
      from = Number.NEGATIVE_INFINITY,
      to = Number.POSITIVE_INFINITY,
      likely,
    } = rule;
    const isInRange = Number.isFinite(found) && found > above && found >= from && found <= to;
    if (!isInRange || (rule.isWhole === true && !Number.isInteger(found))) {
      return refuse(value, says, `write ${sayRange(rule)}, for example ${rule.example}`);
    }
    if (likely !== undefined && (found < likely[0] || found > likely[1])) {
      warn(value, `${says}; that is unusual`, `check that it is in ${rule.unit}, as in ${rule.example}`);
    }
    return found;
  };
}

export const flag: Reader<boolean> = (value) => {
  const found = isScalar(value.node) ? value.node.value : undefined;
  return typeof found === 'boolean'
    ? found
    : refuse(value, `${value.name} is ${show(value.node)}`, 'write true or false, without quotes');
};

/** A text; numbers and dates are taken as they were written. */
export const text: Reader<string> = (value) => {
  const found = textOf(value.node)?.trim();
  return found === undefined || found === ''
    ? refuse(value, `${value.name} is ${show(value.node)}`, 'write a text')
    : found;
};

/** One of a few words or numbers. */
export function oneOf<T extends string | number>(words: readonly T[]): Reader<T> {
  return (value) => {
    const found = textOf(value.node);
    const word = words.find((candidate) => String(candidate) === found);
    if (word !== undefined) return word;
    const nearest = found === null ? null : nearestWord(found, words.map(String));
    const remedy =
      nearest === null ? `write one of ${words.join(', ')}` : `write ${nearest}; known are ${words.join(', ')}`;
    return refuse(value, `${value.name} is ${show(value.node)}`, remedy);
  };
}

const DAY_FORM = /^\d{4}-\d{2}-\d{2}$/;

/** A day, as 2026-03-02 or as an RFC 3339 time of that UTC day: midnight UTC of it. */
export const day: Reader<EpochMs> = (value) => {
  const found = textOf(value.node)?.trim() ?? '';
  const t = parseTime(DAY_FORM.test(found) ? `${found}T00:00:00Z` : found);
  if (t === null)
    return refuse(value, `${value.name} is ${show(value.node)}`, 'write a day that exists, as 2026-03-02');
  const midnight = epochMs(dayOf(t));
  if (midnight !== t)
    warn(
      value,
      `${value.name} is ${show(value.node)}; the time of day is not kept`,
      `write ${formatDay(midnight)}, which counts from midnight UTC`,
    );
  return midnight;
};

/** [low, high] of two numbers, low below high. */
export function band(rule: NumberRule, example: string): Reader<readonly [number, number]> {
  const readEnds = list(number(rule), { noun: 'end' });
  return (value) => {
    if (!isSeq(value.node) || value.node.items.length !== 2) {
      return refuse(
        value,
        `${value.name} is ${isSeq(value.node) ? `a list of ${value.node.items.length}` : show(value.node)}`,
        `write the low and the high end, as ${example}`,
      );
    }
    const [low, high] = readEnds(value) ?? [];
    if (low === undefined || high === undefined) return undefined;
    if (low < high) return [low, high];
    return refuse(value, `${value.name} runs from ${low} to ${high}`, `write the low end first, as ${example}`);
  };
}
