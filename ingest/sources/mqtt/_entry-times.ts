/** What each topic entry brought, and the parts of a broker's status made of it. */
import type { DevicePart } from '../../vocabulary/source-status.ts';
import { epochMs, formatTime } from '../../vocabulary/time.ts';
import type { BatchBuilder } from '../../wire/batch-builder.ts';
import type {
  CourierOffset,
  EntryReader,
  MessageSink,
  MqttMessage,
  SparkplugNodeName,
} from '../../wire/mqtt/message.ts';
import type { MessageReader } from '../../wire/mqtt/message-reader.ts';
import type { SourceGauge } from '../source-gauge.ts';
import { createCourierClocks } from './_courier-clocks.ts';
import type { Silences } from './_silences.ts';

export interface EntryHouse {
  readonly silences: Pick<Silences, 'heard'>;
  readonly gauge: Pick<SourceGauge, 'refused'>;
  hearOffset(offset: CourierOffset): void;
  needsBirth(node: SparkplugNodeName): void;
}

/** How the subscriptions of a broker stand. */
interface Held {
  readonly isOpen: boolean;
  isHeld(filter: string): boolean;
  trouble(filter: string): string | null;
}

export interface EntryTimes {
  read(reader: MessageReader, message: MqttMessage, builder: BatchBuilder): void;
  parts(held: Held): readonly DevicePart[];
}

/** A site has a courier or two; a name that anybody may publish must not grow without end. */
const MOST_COURIERS = 1000;
/** Beyond it the readings of a site and the server's now no longer fit together. */
const CLOCK_IS_OFF_MS = 5000;

export function createEntryTimes(entries: readonly EntryReader[], house: EntryHouse): EntryTimes {
  const newest = new Map<EntryReader, number>();
  const couriers = new Map<string, CourierOffset>();
  const clockOf = createCourierClocks();
  return {
    read(reader, message, builder) {
      let newestOfThis = Number.NEGATIVE_INFINITY;
      const sink: MessageSink = {
        take(meaning) {
          builder.countLine();
          builder.take(meaning);
          newestOfThis = Math.max(newestOfThis, meaning.t);
          house.silences.heard(meaning.source, meaning.t);
        },
        refuse({ what, remedy }, place) {
          house.gauge.refused({
            where: place === undefined ? message.topic : `${message.topic}, ${place}`,
            what,
            remedy,
          });
        },
        offset(said) {
          const offset = clockOf(said, message);
          const name = `courier ${offset.name} of ${offset.site}`;
          if (couriers.size < MOST_COURIERS || couriers.has(name)) couriers.set(name, offset);
          house.hearOffset(offset);
        },
        needsBirth: house.needsBirth,
      };
      const took = reader.read(message, sink);
      if (newestOfThis === Number.NEGATIVE_INFINITY) return;
      for (const entry of took) newest.set(entry, Math.max(newest.get(entry) ?? newestOfThis, newestOfThis));
    },
    parts: (held) => [
      ...entries.flatMap((entry) => entryParts(entry, newest.get(entry) ?? null, held)),
      ...courierParts(couriers),
    ],
  };
}

function entryParts(entry: EntryReader, newest: number | null, held: Held): DevicePart[] {
  const parts = entry.parts();
  const own = parts.find(({ name }) => name === entry.name);
  const refused = entry.filters.map((filter) => held.trouble(filter)).find((trouble) => trouble !== null);
  return [
    {
      name: entry.name,
      isAnswering: held.isOpen && entry.filters.every((filter) => held.isHeld(filter)),
      lastReadingAt: newest === null ? null : epochMs(newest),
      trouble: refused ?? own?.trouble ?? null,
    },
    ...parts
      .filter((part) => part !== own)
      .map(({ name, isAnswering, lastReadingAt, trouble }) => ({
        name,
        isAnswering: held.isOpen && isAnswering,
        lastReadingAt: lastReadingAt === null ? null : epochMs(lastReadingAt),
        trouble,
      })),
  ];
}

function courierParts(couriers: ReadonlyMap<string, CourierOffset>): DevicePart[] {
  return [...couriers].map(([name, { t, offsetMs }]) => ({
    name,
    isAnswering: true,
    lastReadingAt: null,
    trouble:
      Math.abs(offsetMs) < CLOCK_IS_OFF_MS
        ? null
        : `its clock is off by ${(offsetMs / 1000).toFixed(1)} s, as its word of ${formatTime(t)} says`,
  }));
}
