/** JSON topics of somebody else's layout, read as a map says. */
import { columnOf } from '../../vocabulary/quantities.ts';
import type { SourceKey } from '../../vocabulary/reading.ts';
import { decimalReader } from '../decimal-text.ts';
import { type Fault, isFault, type LineMeaning, readSource, readTime } from '../line-meaning.ts';
import { quoteText, quoteValue } from '../quote-value.ts';
import { timeFormat } from '../time-format.ts';
import { jsonOf } from './json-payload.ts';
import { jsonPointer } from './json-pointer.ts';
import { mappedValue, OddCounts, type ValueRule, valueRule } from './mapped-value.ts';
import type { EntryReader, MqttMessage } from './message.ts';
import type { JsonEntry, NamedSource } from './topic-entry.ts';
import { type LevelName, topicTemplate } from './topic-template.ts';

interface PointedValue {
  readonly pointer: string;
  readonly at: (value: unknown) => unknown;
  readonly rule: ValueRule;
}

const decimal = decimalReader('.', null);
/** Many gateways send each number as text. */
const plainNumber = (raw: unknown): unknown => {
  const number = typeof raw === 'string' ? decimal(raw.trim()) : Number.NaN;
  return Number.isNaN(number) ? raw : number;
};

/** Who a message speaks of: what its levels name, else what the entry says. */
function sourceOf(levels: Partial<Record<LevelName, string>>, { site, source }: JsonEntry): SourceKey | Fault {
  const { unit, pack, meter } = levels;
  const named: NamedSource | null =
    unit !== undefined
      ? { kind: 'unit', id: unit }
      : pack !== undefined
        ? { kind: 'pack', id: pack }
        : meter !== undefined
          ? { kind: 'meter', id: meter }
          : source;
  if (named === null) return { what: 'the topic names no source', remedy: 'add unit, pack, bank or meter to the map' };
  return readSource(levels.site ?? site, named.kind, named.id);
}

/** The time a payload carries; null where it carries none. */
function ownTime(value: unknown, { time }: JsonEntry): number | null | Fault {
  if (time === null) return null;
  const raw = jsonPointer(time.pointer)(value);
  if (raw === undefined || raw === null) return null;
  const text = typeof raw === 'number' ? plainText(raw) : typeof raw === 'string' ? raw.trim() : null;
  const ms = text === null ? Number.NaN : (timeFormat(time.format)?.read(text) ?? Number.NaN);
  if (!Number.isNaN(ms)) return readTime(ms);
  return {
    what: `the time ${time.pointer} is ${quoteValue(raw)}`,
    remedy: `it is read as ${time.format}: correct the map`,
  };
}

/** 1.7e9 is a number like any other, but no text that a clock writes. */
const plainText = (number: number): string =>
  Number.isSafeInteger(number) ? String(number) : String(number).replace(/e.*$/, 'x');

function timeOf(
  value: unknown,
  { isRetained, canComeAgain, arrivedAt }: MqttMessage,
  entry: JsonEntry,
): number | Fault {
  const own = ownTime(value, entry);
  if (own !== null) return own;
  const carries = entry.time === null ? 'the map names no time' : `nothing stands at the time ${entry.time.pointer}`;
  if (isRetained)
    return {
      what: `${carries}, and the message was retained: it may be of any age`,
      remedy: 'name the time of the payload in the map, or let the gateway not retain it',
    };
  if (canComeAgain)
    return {
      what: `${carries}, and the broker may have held the message back`,
      remedy: 'name the time of the payload in the map, publish with QoS 0, or leave out client_id',
    };
  return readTime(Math.round(arrivedAt));
}

/** @throws RangeError where the entry is not one that the schema let through */
export function createJsonReader(entry: JsonEntry): EntryReader {
  const template = topicTemplate(entry.topic);
  if (typeof template === 'string') throw new RangeError(`Cannot read topic ${quoteText(entry.topic)}: ${template}`);
  const odds = new OddCounts();
  const pointers = entry.values.map(({ pointer }) => pointer);
  const rulesOf = new Map<string, readonly PointedValue[]>();
  const rulesFor = (kind: SourceKey['kind']): readonly PointedValue[] => {
    const known = rulesOf.get(kind);
    if (known !== undefined) return known;
    const rules = entry.values.flatMap((value): PointedValue[] => {
      const column = columnOf(kind, value.quantity);
      if (column === undefined) return [];
      return [{ pointer: value.pointer, at: jsonPointer(value.pointer), rule: valueRule(column, value) }];
    });
    rulesOf.set(kind, rules);
    return rules;
  };
  return {
    name: entry.topic,
    filters: [template.filter],
    read(message, sink) {
      const levels = template.match(message.topic);
      if (levels === null) return false;
      if (message.payload.length === 0) return true;
      const parsed = jsonOf(message.payload);
      if ('fault' in parsed) {
        sink.refuse(parsed.fault);
        return true;
      }
      const source = sourceOf(levels, entry);
      const said = isFault(source)
        ? source
        : meaningOf(parsed.value, source, { message, entry, rules: rulesFor(source.kind), odds, pointers });
      if (isFault(said)) sink.refuse(said);
      else sink.take(said);
      return true;
    },
    parts: () => [{ name: entry.topic, isAnswering: true, lastReadingAt: null, trouble: odds.say() }],
  };
}

interface Reading {
  readonly message: MqttMessage;
  readonly entry: JsonEntry;
  readonly rules: readonly PointedValue[];
  readonly odds: OddCounts;
  readonly pointers: readonly string[];
}

function meaningOf(value: unknown, source: SourceKey, reading: Reading): LineMeaning | Fault {
  const t = timeOf(value, reading.message, reading.entry);
  if (typeof t !== 'number') return t;
  const values: number[] = [];
  let isThere = false;
  for (const { pointer, at, rule } of reading.rules) {
    const raw = at(value);
    isThere ||= raw !== undefined;
    if (raw === undefined || raw === null) continue;
    const stored = mappedValue(rule, rule.column.words === null ? plainNumber(raw) : raw, reading.odds);
    if (stored === null) continue;
    if (typeof stored !== 'number')
      return { what: `${pointer}: ${stored.what}`, remedy: `${stored.remedy}; or correct the map` };
    values.push(rule.column.index, stored);
  }
  if (!isThere) {
    const what = `the payload holds nothing at ${reading.pointers.join(', ')}`;
    return { what, remedy: 'correct the pointers of the map, or its topic' };
  }
  return { source, t, values, extras: null, replaces: false, revision: 0, settings: null, alarm: null };
}
