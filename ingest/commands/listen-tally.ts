/** What was heard of brokers, counted; as much as a person reads is kept apart, the rest in sums. */
import type { HeardMessage } from '../sources/mqtt/heard-message.ts';

export interface EntryCount {
  /** Name of the source. */
  readonly source: string;
  readonly entry: string;
  messages: number;
  readings: number;
  refused: number;
}

export interface TopicCount {
  readonly source: string;
  readonly topic: string;
  count: number;
}

export interface ReasonCount {
  /** Of the first of them. */
  readonly what: string;
  readonly remedy: string;
  readonly topic: string;
  count: number;
}

export interface ListenTally {
  readonly messages: number;
  readonly matched: number;
  readonly unmatched: number;
  readonly readings: number;
  readonly settings: number;
  readonly alarms: number;
  readonly refused: number;
  /** In the order of the configuration, those without a message too; then what else was listened to. */
  readonly entries: readonly EntryCount[];
  /** The most frequent first. */
  readonly unmatchedTopics: readonly TopicCount[];
  /** Messages of topics that are not counted apart. */
  readonly otherUnmatched: number;
  readonly reasons: readonly ReasonCount[];
  readonly otherRefused: number;
}

/** Topics are named by whoever publishes: more than so many different ones are only summed. */
const MOST_TOPICS = 1000;
const MOST_REASONS = 200;

/** `out/kw: output_power_w is "fifty"` and `… is "sixty"` are one reason: what stands in quotes, and numbers, are left out. */
const reasonOf = (what: string): string =>
  what.replace(/"(?:[^"\\]|\\.)*"/g, '"…"').replace(/(?<![\w./])-?\d[\d.e+-]*(?!\w)/gi, '…');

const byCount = (a: { readonly count: number }, b: { readonly count: number }): number => b.count - a.count;

export function createListenTally() {
  const sums = { messages: 0, matched: 0, unmatched: 0, readings: 0, settings: 0, alarms: 0, refused: 0 };
  const entries = new Map<string, EntryCount>();
  const topics = new Map<string, TopicCount>();
  const reasons = new Map<string, ReasonCount>();
  let otherUnmatched = 0;
  let otherRefused = 0;
  const entryOf = (source: string, entry: string): EntryCount => {
    const key = JSON.stringify([source, entry]);
    const known = entries.get(key) ?? { source, entry, messages: 0, readings: 0, refused: 0 };
    entries.set(key, known);
    return known;
  };
  const countUnmatched = ({ source, topic }: HeardMessage): void => {
    sums.unmatched += 1;
    const key = JSON.stringify([source, topic]);
    const known = topics.get(key);
    if (known !== undefined) known.count += 1;
    else if (topics.size < MOST_TOPICS) topics.set(key, { source, topic, count: 1 });
    else otherUnmatched += 1;
  };
  const countRefused = ({ topic, refused }: HeardMessage): void => {
    sums.refused += refused.length;
    for (const { what, remedy } of refused) {
      const key = `${reasonOf(what)}\n${remedy}`;
      const known = reasons.get(key);
      if (known !== undefined) known.count += 1;
      else if (reasons.size < MOST_REASONS) reasons.set(key, { what, remedy, topic, count: 1 });
      else otherRefused += 1;
    }
  };
  return {
    /** Names what is listened to, so that an entry without a message is seen too. */
    expect(source: string, names: readonly string[]): void {
      for (const name of names) entryOf(source, name);
    },
    hear(message: HeardMessage): void {
      const { source, readings, refused } = message;
      sums.messages += 1;
      sums.readings += readings.length;
      sums.settings += readings.filter(({ settings }) => Object.keys(settings).length > 0).length;
      sums.alarms += readings.filter(({ alarm }) => alarm !== null).length;
      countRefused(message);
      // A payload that is too long is refused before it is looked at whose it is.
      if (message.entries.length > 0 || refused.length > 0) sums.matched += 1;
      else countUnmatched(message);
      for (const name of message.entries) {
        const entry = entryOf(source, name);
        entry.messages += 1;
        entry.readings += readings.length;
        entry.refused += refused.length;
      }
    },
    tally: (): ListenTally => ({
      ...sums,
      entries: [...entries.values()],
      unmatchedTopics: [...topics.values()].sort(byCount),
      otherUnmatched,
      reasons: [...reasons.values()].sort(byCount),
      otherRefused,
    }),
  };
}
