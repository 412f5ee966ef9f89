/** Keeps the sources of a configuration running: those that are new are started, those that are gone or changed stopped. */

import type { SourceStatus } from '../vocabulary/source-status.ts';
import { MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import type { LiveSource } from './live-source.ts';

/** What a source is made from: plain data. Two with equal data are the same source. */
export interface NamedConfig {
  readonly name: string;
}

/** A status with what only a look at several of them tells. */
export interface KeptStatus extends SourceStatus {
  /** Readings of the last minute; null before the source has run for one. */
  readonly perMinute: number | null;
}

export interface KeptSources<Config extends NamedConfig = NamedConfig> {
  /** Makes the running sources those of the list; the others go on untouched. Resolves when what had to stop has. */
  set(configs: readonly Config[]): Promise<void>;
  statuses(): readonly KeptStatus[];
  /** Stops all; resolves in time, whatever a source does. */
  stop(): Promise<void>;
}

interface Kept {
  readonly data: string;
  readonly source: LiveSource;
  /** Looks of the last minute, oldest first: when, and the count of readings then. */
  looks: { readonly atMs: number; readonly readings: number }[];
}

/** With what comes after it the worker ends within five seconds. */
const STOP_WITHIN_MS = 3200;
const LOOK_EVERY_MS = 5 * SECOND_MS;

export interface KeepHouse {
  nowMs(): number;
  say(line: string): void;
}

/** @param make makes a source that is not started yet; what it throws is said, and the others go on */
export function keepSources<Config extends NamedConfig>(
  make: (config: Config) => LiveSource,
  { nowMs, say }: KeepHouse,
): KeptSources<Config> {
  const kept = new Map<string, Kept>();
  let turn: Promise<void> = Promise.resolve();
  const start = (config: Config, data: string): void => {
    try {
      const source = make(config);
      kept.set(config.name, { data, source, looks: [] });
      source.start();
    } catch (error) {
      say(`${config.name}: this source could not be started: ${wordsOf(error)}; the others go on`);
    }
  };
  const change = async (configs: readonly Config[]): Promise<void> => {
    const wanted = new Map(configs.map((config) => [config.name, { config, data: JSON.stringify(config) }]));
    const gone = [...kept].filter(([name, { data }]) => wanted.get(name)?.data !== data);
    for (const [name] of gone) kept.delete(name);
    await stopAll(
      gone.map(([, { source }]) => source),
      say,
    );
    for (const { config, data } of wanted.values()) if (!kept.has(config.name)) start(config, data);
  };
  return {
    // One change after the other: a source that is still stopping is not started beside itself.
    set(configs) {
      turn = turn.then(() => change(configs));
      return turn;
    },
    statuses: () => [...kept.values()].map((one) => withRate(one, nowMs())),
    async stop() {
      await turn;
      const sources = [...kept.values()].map(({ source }) => source);
      await stopAll(sources, say);
    },
  };
}

function withRate(one: Kept, atMs: number): KeptStatus {
  const status = one.source.status();
  const last = one.looks.at(-1);
  if (last === undefined || atMs - last.atMs >= LOOK_EVERY_MS) one.looks.push({ atMs, readings: status.readings });
  // The first look of at least a minute ago is the one to compare with; older ones are dropped.
  const start = one.looks.findLastIndex((look) => atMs - look.atMs >= MINUTE_MS);
  if (start > 0) one.looks = one.looks.slice(start);
  const from = one.looks[0];
  if (from === undefined || start < 0) return { ...status, perMinute: null };
  return { ...status, perMinute: ((status.readings - from.readings) * MINUTE_MS) / (atMs - from.atMs) };
}

async function stopAll(sources: readonly LiveSource[], say: (line: string) => void): Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<'late'>((resolve) => {
    timer = setTimeout(() => resolve('late'), STOP_WITHIN_MS);
  });
  const stopping = sources.map(async (source) => {
    try {
      if ((await Promise.race([source.stop(), late])) === 'late')
        say(`${source.name}: this source did not stop in time and is left`);
    } catch (error) {
      say(`${source.name}: this source did not stop cleanly: ${wordsOf(error)}`);
    }
  });
  await Promise.all(stopping);
  clearTimeout(timer);
}

const wordsOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));
