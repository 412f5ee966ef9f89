/**
 * Listens to a broker for a while as somebody else: a clean session under a name made up for it, so that the session of
 * the configured client stays with the broker as it is, and nothing is acknowledged on its behalf. Nothing is stored,
 * nothing is published.
 */
import { SECOND_MS } from '../../vocabulary/time.ts';
import { type BrokerLine, type Delivery, openBrokerLine } from './_broker-line.ts';
import { lineOptions } from './_line-options.ts';
import { lineTrouble } from './_line-trouble.ts';
import { covers, widestFilters } from './_widest-filters.ts';
import { createMessageHearing, type HeardMessage } from './heard-message.ts';
import type { MqttConfig } from './mqtt-config.ts';

export interface ListenHouse {
  nowMs(): number;
  heard(message: HeardMessage): void;
  /** Once, when it is subscribed. @param filters  what the broker let us listen to */
  listening(filters: readonly string[]): void;
  /** A line for whoever looks on. */
  say(line: string): void;
  /** It is over without being stopped: not connected, not allowed, or cut off; in words. */
  failed(trouble: string): void;
}

export interface Listening {
  readonly entries: readonly string[];
  leftOut(): readonly string[];
  stop(): Promise<void>;
}

export type ListenToBroker = typeof listenToBroker;

const REFUSED_FROM = 128;
const GOODBYE_WITHIN_MS = SECOND_MS;
const EVERYTHING = '#';

/** @param isAll  hears all that the broker carries, to show what no entry matches */
export function listenToBroker(config: MqttConfig, isAll: boolean, house: ListenHouse): Listening {
  const hearing = createMessageHearing(config);
  const filters = isAll ? [...hearing.filters, EVERYTHING] : hearing.filters;
  let line: BrokerLine | null = null;
  let isOver = false;
  const fail = (trouble: string): void => {
    if (isOver) return;
    isOver = true;
    house.failed(trouble);
    line?.drop();
  };
  const opened = async (at: BrokerLine): Promise<void> => {
    const refused: string[] = [];
    const held = await subscribe(at, filters, (filter, why) => refused.push(`subscription to ${filter}: ${why}`));
    if (isOver) return;
    const remedy = 'give this user the right to read it';
    if (held.length === 0) fail(`${refused.join('; ')}; ${remedy}`);
    else {
      for (const one of refused) house.say(`${config.name}: ${one}; ${remedy}`);
      house.listening(held);
    }
  };
  try {
    // Made up for each line, and clean: the same answer as for a configuration that names no client.
    const options = lineOptions({ ...config, clientId: null });
    line = openBrokerLine(
      config.url,
      options,
      {
        opened: () => void (line !== null && opened(line)),
        delivered: (delivery: Delivery) => {
          if (isOver) return;
          house.heard(hearing.hear(delivery, house.nowMs()));
          // Of our own short session; the broker sends no more than it has room for until then.
          if (delivery.messageId !== null) line?.acknowledge([delivery.messageId]);
        },
        closed: (error) => fail(lineTrouble(error)),
      },
      house.nowMs,
    );
  } catch (error) {
    // A certificate that can't be read any more.
    queueMicrotask(() => fail(lineTrouble(error)));
  }
  return {
    entries: hearing.entries,
    leftOut: hearing.leftOut,
    async stop() {
      if (isOver) return;
      isOver = true;
      if (line !== null) await goodbye(line);
    },
  };
}

/** The widest first; where one is refused, what it would have covered. @returns those that are held */
async function subscribe(
  line: BrokerLine,
  filters: readonly string[],
  refused: (filter: string, why: string) => void,
): Promise<readonly string[]> {
  const held = await Promise.all(
    widestFilters(filters).map(async (filter) => {
      const code = await line.subscribe(filter);
      if (code !== null && code < REFUSED_FROM) return [filter];
      refused(filter, code === null ? 'the broker did not answer' : `the broker refuses it with code ${code}`);
      return subscribe(
        line,
        filters.filter((one) => one !== filter && covers(filter, one)),
        refused,
      );
    }),
  );
  return [...new Set(held.flat())];
}

async function goodbye(line: BrokerLine): Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<void>((resolve) => {
    timer = setTimeout(resolve, GOODBYE_WITHIN_MS);
  });
  await Promise.race([line.end(), late]);
  clearTimeout(timer);
  line.drop();
}
