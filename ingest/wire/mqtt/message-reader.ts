/** All entries of one broker as one reader: each message goes to every entry whose topic it is. */
import { createSparkplugReader } from '../sparkplug/sparkplug-reader.ts';
import { createJsonReader } from './json-reader.ts';
import type { EntryReader, MessageSink, MqttMessage } from './message.ts';
import { createNativeReader } from './native-reader.ts';
import type { TopicEntry } from './topic-entry.ts';

/** A payload is a reading or a backfill of some; beyond this it is a mistake, refused without being read. */
export const PAYLOAD_MAX_BYTES = 1024 * 1024;

export interface MessageReader {
  readonly entries: readonly EntryReader[];
  /** What to subscribe to, each once. */
  readonly filters: readonly string[];
  /** @returns the entries it was for; where there are none, and none was expected, the message was refused */
  read(message: MqttMessage, sink: MessageSink): readonly EntryReader[];
  /** What the entries want to be kept for the next process, by their names; empty where none does. */
  kept(): Readonly<Record<string, unknown>>;
  /** Rises with each change of what `kept` gives. */
  keptChange(): number;
  recall(kept: Readonly<Record<string, unknown>>): void;
}

function readerOf(entry: TopicEntry): EntryReader {
  switch (entry.reads) {
    case 'kilter':
      return createNativeReader();
    case 'sparkplug':
      return createSparkplugReader(entry);
    case 'json':
      return createJsonReader(entry);
  }
}

/** @param isExpected  whether a topic is listened to for another reason than readings, such as a last will */
export function createMessageReader(
  topics: readonly TopicEntry[],
  isExpected: (topic: string) => boolean = () => false,
): MessageReader {
  const entries = topics.map(readerOf);
  return {
    entries,
    filters: [...new Set(entries.flatMap(({ filters }) => filters))],
    read(message, sink) {
      const { length } = message.payload;
      if (length > PAYLOAD_MAX_BYTES) {
        const what = `the payload is ${(length / 1024 / 1024).toFixed(1)} MiB`;
        sink.refuse({ what, remedy: 'send at most 1 MiB in one message: cut a backfill into several' });
        return [];
      }
      const took = entries.filter((entry) => entry.read(message, sink));
      if (took.length === 0 && !isExpected(message.topic)) {
        // A persistent session may still hold subscriptions of an earlier configuration.
        const remedy =
          'add the topic to topics; or it is left from an earlier configuration, then choose another client_id';
        sink.refuse({ what: 'the topic is in no map', remedy });
      }
      return took;
    },
    kept: () =>
      Object.fromEntries(
        entries.map((entry) => [entry.name, entry.kept?.()] as const).filter(([, one]) => one !== undefined),
      ),
    keptChange: () => entries.reduce((sum, entry) => sum + (entry.keptChange?.() ?? 0), 0),
    recall(kept) {
      for (const entry of entries) if (Object.hasOwn(kept, entry.name)) entry.recall?.(kept[entry.name]);
    },
  };
}
