/** The MQTT sources of a configuration alone: a topic map is tried out where its other secrets are not at hand. */
import { dirname, resolve } from 'node:path';
import type { Broker } from '../../ingest/commands/listen.ts';
import { readMqttConfig } from '../../ingest/sources/mqtt/mqtt-config.ts';
import { type PathFault, parsePlacedYaml } from '../../ingest/wire/yaml-mistakes.ts';
import { entriesOf, mistaken, readConfigText } from './read-config.ts';

const isMqtt = (entry: unknown): boolean =>
  typeof entry === 'object' && entry !== null && Reflect.get(entry, 'kind') === 'mqtt';

/**
 * @param env  the environment, read for the passwords that the sources name
 * @throws NeedsOperator with every mistake of the YAML and of these sources; of others nothing is said
 */
export function readBrokers(file: string, env: Readonly<Record<string, string | undefined>>): readonly Broker[] {
  const placed = parsePlacedYaml(readConfigText(file), file);
  if (placed.mistakes.length > 0) throw mistaken(placed.mistakes);
  const house = { folder: dirname(resolve(file)), env };
  const brokers: Broker[] = [];
  const faults: PathFault[] = [];
  for (const [i, entry] of entriesOf(placed.value).entries()) {
    if (!isMqtt(entry)) continue;
    const read = readMqttConfig(entry, house);
    faults.push(...read.faults.map((one) => ({ ...one, path: ['sources', i, ...one.path] })));
    if (read.config !== null) brokers.push({ place: i + 1, config: read.config });
  }
  if (faults.length > 0) throw mistaken(placed.place(faults));
  return brokers;
}
