/** What one message of a broker would come to, as the source of that configuration would read it; nothing is stored. */
import { COLUMNS, fromStored } from '../../vocabulary/quantities.ts';
import type { AlarmReading, SettingValue, SourceKey } from '../../vocabulary/reading.ts';
import type { LineMeaning } from '../../wire/line-meaning.ts';
import type { MessageSink, MqttMessage } from '../../wire/mqtt/message.ts';
import { createMessageReader } from '../../wire/mqtt/message-reader.ts';
import { topicTemplate } from '../../wire/mqtt/topic-template.ts';
import { quoteText } from '../../wire/quote-value.ts';
import { lineText } from '../../wire/text-bytes.ts';
import type { Delivery } from './_broker-line.ts';
import { createSilences } from './_silences.ts';
import type { MqttConfig } from './mqtt-config.ts';

/** One reading in words of the vocabulary, values in their own units. */
export interface HeardReading {
  readonly source: SourceKey;
  /** Epoch ms. */
  readonly t: number;
  readonly values: Readonly<Record<string, number | string>>;
  readonly extras: Readonly<Record<string, unknown>>;
  readonly settings: Readonly<Record<string, SettingValue>>;
  readonly alarm: Pick<AlarmReading, 'alarm' | 'state'> | null;
  /** Null where the line is not marked as one that replaces others. */
  readonly replacesBy: number | null;
}

export interface HeardRefusal {
  readonly what: string;
  readonly remedy: string;
  /** Inside of the payload, for example `element 3`; null: the message as a whole. */
  readonly place: string | null;
}

export interface HeardMessage {
  /** Name of the source in the configuration. */
  readonly source: string;
  readonly topic: string;
  readonly isRetained: boolean;
  /** The topic entries, and last wills, that it is for; empty: none matches. */
  readonly entries: readonly string[];
  readonly readings: readonly HeardReading[];
  readonly refused: readonly HeardRefusal[];
  /** What it would do besides. */
  readonly notes: readonly string[];
  /** How the payload begins, for whoever writes a map. */
  readonly payload: string;
}

export interface MessageHearing {
  /** Of all topic entries and last wills. */
  readonly filters: readonly string[];
  /** Names of the topic entries and last wills, as they stand in `HeardMessage.entries`. */
  readonly entries: readonly string[];
  hear(delivery: Delivery, atMs: number): HeardMessage;
  /** What was left out of readings without refusing them, and other troubles of the entries, in words. */
  leftOut(): readonly string[];
}

/** @throws RangeError where an entry is not one that the configuration's schema let through */
export function createMessageHearing(config: MqttConfig): MessageHearing {
  const silences = createSilences(config.wills);
  const wills = config.wills.flatMap(({ topic }) => {
    const template = topicTemplate(topic);
    return typeof template === 'string' ? [] : [{ name: `last will on ${topic}`, template }];
  });
  const reader = createMessageReader(config.topics, () => true);
  return {
    filters: [...new Set([...reader.filters, ...silences.filters])],
    entries: [...reader.entries, ...wills].map(({ name }) => name),
    hear({ topic, payload, isRetained, isAgain, messageId }, atMs) {
      // As the source would hear it: by its own client_id the broker holds back what was published with QoS 1.
      const canComeAgain = messageId !== null && config.clientId !== null;
      const message = { topic, payload, isRetained, isAgain, canComeAgain, arrivedAt: atMs };
      const { sink, readings, refused, notes } = gatheringSink();
      const entries = readFenced(() => reader.read(message, sink).map(({ name }) => name), refused);
      const willNames = wills.filter(({ template }) => template.match(topic) !== null).map(({ name }) => name);
      if (willNames.length > 0) notes.push(willNote(silences, message));
      entries.push(...willNames);
      return { source: config.name, topic, isRetained, entries, readings, refused, notes, payload: beginning(payload) };
    },
    leftOut: () =>
      reader.entries.flatMap((entry) =>
        entry
          .parts()
          .flatMap(({ name, trouble }) =>
            trouble === null
              ? []
              : [name === entry.name ? `${name}: ${trouble}` : `${entry.name}, ${name}: ${trouble}`],
          ),
      ),
  };
}

/** The fence round one message, as the source has one. */
function readFenced(read: () => string[], refused: HeardRefusal[]): string[] {
  try {
    return read();
  } catch (error) {
    const what = `reading it failed: ${error instanceof Error ? error.message : String(error)}`;
    refused.push({ what, remedy: 'report this as a fault of Kilter', place: null });
    return [];
  }
}

function gatheringSink() {
  const readings: HeardReading[] = [];
  const refused: HeardRefusal[] = [];
  const notes: string[] = [];
  const sink: MessageSink = {
    take: (meaning) => readings.push(heardReading(meaning)),
    refuse: ({ what, remedy }, place) => refused.push({ what, remedy, place: place ?? null }),
    offset: ({ site, name, offsetMs }) =>
      notes.push(`courier ${name} of ${site} says its clock is off by ${offsetMs} ms`),
    needsBirth: ({ group, node }) =>
      notes.push(`node ${node} of group ${group} would be asked to be born again; it is not asked now`),
  };
  return { sink, readings, refused, notes };
}

function willNote(silences: ReturnType<typeof createSilences>, { topic, payload, arrivedAt }: MqttMessage): string {
  silences.hear(topic, payload, arrivedAt);
  const troubles = silences
    .parts()
    .flatMap(({ name, trouble }) => (name === `last will on ${topic}` && trouble !== null ? [trouble] : []));
  return troubles.length === 0 ? 'the gateway says that it is there' : troubles.join('; ');
}

function heardReading({ source, t, values, extras, settings, alarm, replaces, revision }: LineMeaning): HeardReading {
  const named: Record<string, number | string> = {};
  for (let k = 0; k < values.length; k += 2) {
    const column = COLUMNS[source.kind][values[k]!]!;
    const stored = values[k + 1]!;
    named[column.id] = column.words?.[stored] ?? fromStored(column.decimals, stored);
  }
  return {
    source,
    t,
    values: named,
    extras: extras ?? {},
    settings: settings ?? {},
    alarm,
    replacesBy: replaces ? revision : null,
  };
}

/** Enough of a payload that the cut of a text has all it shows. */
const MOST_BYTES = 512;

function beginning(payload: Uint8Array): string {
  if (payload.length === 0) return 'empty';
  // Cut by bytes, a text may end inside of a character.
  const text =
    payload.length <= MOST_BYTES ? lineText(payload) : new TextDecoder().decode(payload.subarray(0, MOST_BYTES));
  return typeof text === 'string' && !/(?!\s)\p{Cc}/u.test(text)
    ? quoteText(text)
    : `${payload.length} bytes that are no text`;
}
