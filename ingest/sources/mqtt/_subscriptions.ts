/** What is subscribed to at a broker, and what the broker has refused. */
import { MINUTE_MS } from '../../vocabulary/time.ts';
import type { BrokerLine } from './_broker-line.ts';

/** Rights at a broker are changed by people: a refused subscription is asked for again so often. */
const AGAIN_MS = MINUTE_MS;
const REFUSED_FROM = 128;

export interface Subscriptions {
  /** A line was opened: subscribes to all where the broker kept nothing, or where this program just began. */
  opened(line: BrokerLine, hasSession: boolean): void;
  closed(): void;
  /** Null: it is subscribed to, or not asked for yet. */
  trouble(filter: string): string | null;
  isHeld(filter: string): boolean;
}

export function createSubscriptions(filters: readonly string[], say: (line: string) => void): Subscriptions {
  const held = new Set<string>();
  const refused = new Map<string, string>();
  let current: BrokerLine | null = null;
  let again: NodeJS.Timeout | null = null;
  let isFirst = true;

  const ask = async (line: BrokerLine, filter: string): Promise<void> => {
    const code = await line.subscribe(filter);
    if (line !== current) return;
    if (code !== null && code < REFUSED_FROM) {
      held.add(filter);
      refused.delete(filter);
      return;
    }
    held.delete(filter);
    const why = code === null ? 'the broker did not answer' : `the broker refuses it with code ${code}`;
    const trouble = `subscription to ${filter}: ${why}; give this user the right to read it`;
    if (!refused.has(filter)) say(trouble);
    refused.set(filter, trouble);
    again ??= setTimeout(() => {
      again = null;
      if (current !== null) askAll(current, [...refused.keys()]);
    }, AGAIN_MS);
  };
  const askAll = (line: BrokerLine, all: readonly string[]): void => {
    // One packet each: of several in one, the library tells only that one was refused.
    for (const filter of all) void ask(line, filter);
  };

  return {
    opened(line, hasSession) {
      current = line;
      // The configuration may have changed since the session was made.
      const isKept = hasSession && !isFirst;
      isFirst = false;
      if (!isKept) held.clear();
      askAll(line, isKept ? filters.filter((filter) => !held.has(filter)) : filters);
    },
    closed() {
      current = null;
      if (again !== null) clearTimeout(again);
      again = null;
    },
    trouble: (filter) => refused.get(filter) ?? null,
    isHeld: (filter) => held.has(filter),
  };
}
