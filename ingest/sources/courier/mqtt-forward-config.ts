/** `forward: { mqtt: { url: …, client_id: … } }`: the keys of an mqtt source, without topics. */
import { quoteValue } from '../../wire/quote-value.ts';
import { type MqttConfig, readMqttConfig } from '../mqtt/mqtt-config.ts';
import type { ConfigHouse, SourceReading } from '../source-config.ts';

export interface MqttForward {
  readonly kind: 'mqtt';
  /** Its topics and wills say nothing here. */
  readonly broker: MqttConfig;
}

/** Keys of a source that a forward has no use for. */
const ONLY_OF_SOURCES = ['kind', 'topics', 'will'] as const;

/** @param value what stands behind `forward.mqtt`; paths of faults begin there */
export function readMqttForward(value: unknown, house: ConfigHouse): SourceReading<MqttForward> {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    const fault = { what: `mqtt is ${quoteValue(value)}`, remedy: 'write mqtt: { url: mqtts://broker.example:8883 }' };
    return { config: null, faults: [{ path: [], fault }] };
  }
  const extra = ONLY_OF_SOURCES.filter((key) => key in value).map((key) => ({
    path: [key],
    fault: {
      what: `${key} says nothing in a forward`,
      remedy: 'take it out: a courier publishes, and listens to nothing',
    },
  }));
  const { kind: _kind, topics: _topics, will: _will, ...rest } = value as Readonly<Record<string, unknown>>;
  const read = readMqttConfig({ ...rest, kind: 'mqtt', topics: [{ reads: 'kilter' }] }, house);
  const faults = [...extra, ...read.faults];
  return {
    config: read.config === null || faults.length > 0 ? null : { kind: 'mqtt', broker: read.config },
    faults,
  };
}
