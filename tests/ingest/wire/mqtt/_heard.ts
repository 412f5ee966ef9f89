/** What a reader makes of messages, in a form that a test can compare. */
import { BatchBuilder } from '../../../../ingest/wire/batch-builder.ts';
import type { CourierOffset, MqttMessage } from '../../../../ingest/wire/mqtt/message.ts';
import { createMessageReader, type MessageReader } from '../../../../ingest/wire/mqtt/message-reader.ts';
import type { TopicEntry } from '../../../../ingest/wire/mqtt/topic-entry.ts';
import { type DescribedBatch, describeBatch } from '../describe-batch.ts';

export const ARRIVED = Date.UTC(2026, 2, 2, 6, 0, 30);

export interface Heard extends Pick<DescribedBatch, 'readings' | 'settings' | 'alarms'> {
  readonly refused: readonly string[];
  readonly offsets: readonly CourierOffset[];
  /** Nodes that are asked to be born again. */
  readonly asked: readonly string[];
}

export type Said = Partial<Omit<MqttMessage, 'payload'>> & { readonly topic: string; readonly payload: unknown };

export const bytesOf = (payload: unknown): Uint8Array =>
  payload instanceof Uint8Array
    ? payload
    : new TextEncoder().encode(typeof payload === 'string' ? payload : JSON.stringify(payload));

/** A reader that remembers, as one of a connection does. */
export function listener(topics: readonly TopicEntry[]): {
  readonly reader: MessageReader;
  hear(...said: Said[]): Heard;
} {
  const reader = createMessageReader(topics);
  return {
    reader,
    hear(...said) {
      const builder = new BatchBuilder();
      const refused: string[] = [];
      const offsets: CourierOffset[] = [];
      const asked: string[] = [];
      for (const { topic, payload, ...rest } of said) {
        const message = {
          isRetained: false,
          canComeAgain: true,
          arrivedAt: ARRIVED,
          ...rest,
          topic,
          payload: bytesOf(payload),
        };
        reader.read(message, {
          take(meaning) {
            builder.countLine();
            builder.take(meaning);
          },
          refuse: ({ what }, place) => refused.push(place === undefined ? what : `${place}: ${what}`),
          offset: (offset) => offsets.push(offset),
          needsBirth: ({ group, node }) => asked.push(`${group}/${node}`),
        });
      }
      const { readings, settings, alarms } = describeBatch(builder.finish());
      return { readings, settings, alarms, refused, offsets, asked };
    },
  };
}

export const hear = (topics: readonly TopicEntry[], ...said: Said[]): Heard => listener(topics).hear(...said);
