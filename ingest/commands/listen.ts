/** `kilter listen`: hears a broker for a while, and shows what the topic maps of a configuration would store of it. */
import type { HeardMessage } from '../sources/mqtt/heard-message.ts';
import type { Listening, ListenToBroker } from '../sources/mqtt/listen-to-broker.ts';
import type { MqttConfig } from '../sources/mqtt/mqtt-config.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { SECOND_MS } from '../vocabulary/time.ts';
import type { Command, Io } from './command.ts';
import { messageJson, messageLines, summaryJson, summaryLines } from './listen-lines.ts';
import { createListenTally } from './listen-tally.ts';
import { readOptions, refuseRest, required, wholeNumber } from './read-options.ts';
import { readDuration } from './read-time.ts';

const LISTEN = 'listen';
const DEFAULT_FOR = '30s';
const MOST_COUNT = 10_000_000;
/** A timer takes no more. */
const LONGEST_MS = 2 ** 31 - 1;
/** Messages that wait to be printed; beyond it they are counted and not shown. */
const MOST_WAITING = 10_000;
const PRINTED_AT_ONCE = 100;
const OPTIONS = {
  config: 'value',
  source: 'value',
  for: 'value',
  count: 'value',
  all: 'flag',
  json: 'flag',
} as const;

const USAGE = `Usage: kilter listen --config kilter.yaml [--source NAME|N] [--for 30s] [--count N] [--all] [--json]

Listens to the MQTT sources of a configuration and says of each message which topic entry matches it,
what would be stored of it, in the quantities of the vocabulary, or why it would be refused. At the end
it sums up. It stores nothing and publishes nothing, and connects in a clean session under a name made
up for it, never by the client_id of the configuration: what waits for that one goes on waiting.

  --config FILE    the configuration; only its MQTT sources are read, every mistake in them is said
  --source NAME|N  one of them: its name, its url, or its place in the list of sources, from 1
  --for 30s        how long; without it ${DEFAULT_FOR}, or with --count until there are so many
  --count N        ends after so many messages
  --all            hears all topics of the broker, to show what no entry matches
  --json           one JSON object a line: kind is message, at the end summary

A metric of Sparkplug that comes by alias alone can be read only if its birth was heard meanwhile.
Ctrl-C ends it early. It exits 0, or 1 if a broker could not be connected to or cut us off.

Examples:
  kilter listen --config kilter.yaml
  kilter listen --config kilter.yaml --source 2 --all --for 5m
  kilter listen --config kilter.yaml --count 100 --json`;

/** One MQTT source of a configuration. */
export interface Broker {
  /** In the list of all its sources, from 1. */
  readonly place: number;
  readonly config: MqttConfig;
}

export interface ListenWith {
  /** @throws NeedsOperator with every mistake of the file */
  readBrokers(file: string): readonly Broker[];
  readonly listen: ListenToBroker;
}

const mistake = (what: string, remedy: string): NeedsOperator =>
  new NeedsOperator({ where: `kilter ${LISTEN}`, what, remedy });

function chosen(brokers: readonly Broker[], file: string, source: string | undefined): readonly MqttConfig[] {
  if (brokers.length === 0)
    throw mistake(`${file} has no source of kind mqtt`, 'add one: { kind: mqtt, url: …, topics: […] }');
  const named = brokers.filter(
    ({ place, config }) => source === undefined || [String(place), config.name, config.url].includes(source),
  );
  if (named.length > 0) return named.map(({ config }) => config);
  const all = brokers.map(({ place, config }) => `${place} (${config.name})`).join(', ');
  throw mistake(`--source is "${source}", and no MQTT source is called so`, `give one of ${all}`);
}

interface Asked {
  readonly configs: readonly MqttConfig[];
  /** Null: no limit. */
  readonly forMs: number | null;
  readonly count: number | null;
  readonly isAll: boolean;
  readonly isJson: boolean;
}

function readAsked(house: ListenWith, args: readonly string[]): Asked {
  const { options, rest } = readOptions(LISTEN, OPTIONS, args);
  refuseRest(LISTEN, rest);
  const count = options.count === undefined ? null : wholeNumber(LISTEN, 'count', options.count, 1, MOST_COUNT);
  const written = options.for ?? (count === null ? DEFAULT_FOR : undefined);
  const forMs = written === undefined ? null : readDuration(LISTEN, 'for', written);
  if (forMs !== null && forMs > LONGEST_MS) throw mistake(`--for is "${written}"`, 'give 24 days at most');
  const file = required(LISTEN, 'config', options.config, 'kilter.yaml');
  const configs = chosen(house.readBrokers(file), file, options.source);
  return { configs, forMs, count, isAll: options.all, isJson: options.json };
}

/** Prints at the pace of whoever reads; what waits too long behind is dropped, and counted. */
function createPrinter(linesOf: (message: HeardMessage) => readonly string[], io: Io) {
  let waiting: HeardMessage[] = [];
  let printing: Promise<void> | null = null;
  let unshown = 0;
  const print = async (): Promise<void> => {
    while (waiting.length > 0) {
      const batch = waiting.slice(0, PRINTED_AT_ONCE);
      waiting = waiting.slice(PRINTED_AT_ONCE);
      for (const message of batch) for (const line of linesOf(message)) io.out(line);
      await io.drained();
    }
    printing = null;
  };
  return {
    print(message: HeardMessage): void {
      if (waiting.length >= MOST_WAITING) unshown += 1;
      else waiting.push(message);
      printing ??= print();
    },
    /** @returns how many were not shown */
    async finish(): Promise<number> {
      await printing;
      return unshown;
    },
  };
}

/** Resolves when it is time to sum up; the time begins with the first broker that is listened to. */
function createEnd({ configs, forMs, count }: Asked, io: Io) {
  let timer: NodeJS.Timeout | undefined;
  let end: () => void = () => {};
  const ended = new Promise<void>((resolve) => {
    end = resolve;
  });
  let left = configs.length;
  let heard = 0;
  io.onStop(end);
  return {
    begun(): void {
      if (forMs !== null) timer ??= setTimeout(end, forMs);
    },
    failed(): void {
      left -= 1;
      if (left === 0) end();
    },
    /** @returns whether one more is wanted */
    takes(): boolean {
      if (count !== null && heard >= count) return false;
      heard += 1;
      if (heard === count) end();
      return true;
    },
    async over(): Promise<void> {
      await ended;
      clearTimeout(timer);
    },
  };
}

async function run(house: ListenWith, args: readonly string[], io: Io): Promise<number> {
  const asked = readAsked(house, args);
  const { configs, isAll, isJson } = asked;
  const isOneOfMany = configs.length > 1;
  const tally = createListenTally();
  const end = createEnd(asked, io);
  const printer = createPrinter((one) => (isJson ? [messageJson(one)] : messageLines(one, isOneOfMany)), io);
  let hasFailed = false;
  let begunAt: number | null = null;
  const listenings: Listening[] = configs.map((config) => {
    const listening = house.listen(config, isAll, {
      nowMs: io.now,
      say: io.err,
      listening(filters) {
        begunAt ??= io.now();
        io.err(`${config.name}: listening to ${filters.join(', ')}; Ctrl-C sums up`);
        end.begun();
      },
      heard(message) {
        if (!end.takes()) return;
        tally.hear(message);
        printer.print(message);
      },
      failed(trouble) {
        hasFailed = true;
        io.err(`${config.name}: ${trouble}`);
        end.failed();
      },
    });
    tally.expect(config.name, listening.entries);
    return listening;
  });
  await end.over();
  const seconds = begunAt === null ? 0 : Math.round((io.now() - begunAt) / SECOND_MS);
  await Promise.all(listenings.map((one) => one.stop()));
  const unshown = await printer.finish();
  if (unshown > 0) io.err(`${unshown} messages came faster than they could be shown; they are counted`);
  // Of a broker that was never reached there is nothing to sum up.
  if (begunAt === null) return hasFailed ? 1 : 0;
  const leftOut = listenings.flatMap((one) => one.leftOut());
  const listened = { tally: tally.tally(), seconds, leftOut, isAll, isOneOfMany };
  for (const line of isJson ? [summaryJson(listened)] : ['', ...summaryLines(listened)]) io.out(line);
  return hasFailed ? 1 : 0;
}

export function listenCommand(house: ListenWith): Command {
  return {
    name: LISTEN,
    summary: 'hears a broker and shows what the topic maps would store',
    usage: USAGE,
    run: (args, io) => run(house, args, io),
  };
}
