/** What was heard of a broker as lines: sentences for people, one JSON object a line for programs. */
import type { HeardMessage, HeardReading, HeardRefusal } from '../sources/mqtt/heard-message.ts';
import { columnOf, type SourceKind } from '../vocabulary/quantities.ts';
import { formatTime } from '../vocabulary/time.ts';
import type { EntryCount, ListenTally } from './listen-tally.ts';

/** A backfill may hold thousands; for people the first few show what the map makes of it. */
const MOST_SHOWN = 10;
const MOST_TOPICS_SHOWN = 40;
const MOST_REASONS_SHOWN = 20;

/** Topics and texts come from whoever publishes: what would steer a terminal is written out. */
const plain = (text: string): string =>
  text.replace(/\p{Cc}/gu, (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, '0')}`);

const counted = (count: number, one: string, many = `${one}s`): string => `${count} ${count === 1 ? one : many}`;

function valueText(kind: SourceKind, id: string, value: number | string): string {
  const symbol = columnOf(kind, id)?.symbol ?? '';
  return symbol === '' ? `${id} ${value}` : `${id} ${value} ${symbol}`;
}

function readingText({ source, t, values, extras, settings, alarm, replacesBy }: HeardReading): string {
  const said = [
    ...Object.entries(values).map(([id, value]) => valueText(source.kind, id, value)),
    ...Object.entries(extras).map(([key, value]) => `extra ${key} ${JSON.stringify(value)}`),
    ...Object.entries(settings).map(([key, value]) => `setting ${key} ${JSON.stringify(value)}`),
    ...(alarm === null ? [] : [`alarm ${JSON.stringify(alarm.alarm)} ${alarm.state}`]),
    ...(replacesBy === null ? [] : [`replaces what was sent before, revision ${replacesBy}`]),
  ];
  return `${source.site} ${source.kind} ${source.id} at ${formatTime(t)}: ${said.length === 0 ? 'a reading without values' : said.join(', ')}`;
}

const refusalText = ({ what, remedy, place }: HeardRefusal): string =>
  `${place === null ? '' : `${place}: `}${what}; ${remedy}`;

function firstFew(verb: string, texts: readonly string[]): string[] {
  const shown = texts.slice(0, MOST_SHOWN).map((text) => `  ${verb} ${text}`);
  return texts.length > MOST_SHOWN ? [...shown, `  ${verb} ${texts.length - MOST_SHOWN} more`] : shown;
}

/** @param isOneOfMany  several brokers are listened to: says which */
export function messageLines(message: HeardMessage, isOneOfMany: boolean): readonly string[] {
  const { source, topic, isRetained, entries, readings, refused, notes, payload } = message;
  const isUnmatched = entries.length === 0 && refused.length === 0;
  const isNothing = !isUnmatched && readings.length + refused.length + notes.length === 0;
  return [
    `${topic}${isRetained ? ' (retained)' : ''}${isOneOfMany ? ` from ${source}` : ''}`,
    ...(isUnmatched ? ['  no entry matches'] : entries.map((entry) => `  matches ${entry}`)),
    ...firstFew('would store', readings.map(readingText)),
    ...firstFew('refused:', refused.map(refusalText)),
    ...notes.map((note) => `  note: ${note}`),
    ...(isNothing ? ['  would store nothing'] : []),
    ...(isUnmatched || isNothing || refused.length > 0 ? [`  payload: ${payload}`] : []),
  ].map(plain);
}

function entryLine({ source, entry, messages, readings, refused }: EntryCount, isOneOfMany: boolean): string {
  const from = isOneOfMany ? ` of ${source}` : '';
  if (messages === 0) return `  ${entry}${from}: no message`;
  const none = readings === 0 && refused === 0 ? ', nothing to store' : '';
  const stored = readings === 0 ? none : `, ${counted(readings, 'reading')}`;
  return `  ${entry}${from}: ${counted(messages, 'message')}${stored}${refused === 0 ? '' : `, ${refused} refused`}`;
}

export interface Listened {
  readonly tally: ListenTally;
  readonly seconds: number;
  readonly leftOut: readonly string[];
  /** Whether everything that a broker carries was listened to. */
  readonly isAll: boolean;
  readonly isOneOfMany: boolean;
}

/** For people, at the end. */
export function summaryLines({ tally, seconds, leftOut, isAll, isOneOfMany }: Listened): readonly string[] {
  const { messages, matched, readings, settings, alarms, refused, entries, unmatched, unmatchedTopics, reasons } =
    tally;
  const topics = unmatchedTopics.slice(0, MOST_TOPICS_SHOWN);
  const moreMessages = unmatched - topics.reduce((sum, { count }) => sum + count, 0);
  const shown = reasons.slice(0, MOST_REASONS_SHOWN);
  const moreRefused = refused - shown.reduce((sum, { count }) => sum + count, 0);
  const more = [
    ...(settings === 0 ? [] : [`${settings} with settings`]),
    ...(alarms === 0 ? [] : [counted(alarms, 'alarm')]),
  ];
  return [
    `${counted(messages, 'message')} in ${seconds} s: ${matched} matched, ${unmatched} not`,
    ...entries.map((entry) => entryLine(entry, isOneOfMany)),
    `would store ${counted(readings, 'reading')}${more.length === 0 ? '' : `, ${more.join(', ')}`}; nothing was stored`,
    ...(refused === 0 ? [] : [`refused ${refused}`]),
    ...shown.map(({ count, what, remedy, topic }) => `  ${count} × ${what}; ${remedy} (first on ${topic})`),
    ...(moreRefused === 0 ? [] : [`  ${moreRefused} × for other reasons`]),
    ...(unmatched === 0 ? [] : ['no entry matches']),
    ...topics.map(({ source, topic, count }) => `  ${count} × ${topic}${isOneOfMany ? ` of ${source}` : ''}`),
    ...(moreMessages === 0 ? [] : [`  ${moreMessages} × other topics`]),
    ...leftOut.map((one) => `left out: ${one}`),
    ...(isAll ? [] : ['topics that no entry names were not listened to; --all hears them too']),
  ].map(plain);
}

const ifAny = (key: string, values: Readonly<Record<string, unknown>>): Record<string, unknown> =>
  Object.keys(values).length === 0 ? {} : { [key]: values };

/** A log line again (its extras apart), so that it can be compared with what was meant. */
function readingObject({ source, t, values, extras, settings, alarm, replacesBy }: HeardReading) {
  return {
    t: formatTime(t),
    site: source.site,
    [source.kind]: source.id,
    ...values,
    ...ifAny('extras', extras),
    ...ifAny('settings', settings),
    ...alarm,
    ...(replacesBy === null ? {} : { replaces: true, revision: replacesBy }),
  };
}

/** For programs: `kind` tells what a line is. */
export function messageJson(message: HeardMessage): string {
  const { source, topic, isRetained, entries, readings, refused, notes, payload } = message;
  return JSON.stringify({
    kind: 'message',
    source,
    topic,
    retained: isRetained,
    matches: entries,
    would_store: readings.map(readingObject),
    refused: refused.map(({ what, remedy, place }) => ({ what, remedy, ...(place === null ? {} : { where: place }) })),
    ...(notes.length === 0 ? {} : { notes }),
    payload,
  });
}

export function summaryJson({ tally, seconds, leftOut }: Listened): string {
  const { unmatchedTopics, otherUnmatched, reasons, otherRefused, ...rest } = tally;
  return JSON.stringify({
    kind: 'summary',
    seconds,
    ...rest,
    unmatched_topics: unmatchedTopics,
    other_unmatched: otherUnmatched,
    refused_by_reason: reasons,
    other_refused: otherRefused,
    left_out: leftOut,
  });
}
