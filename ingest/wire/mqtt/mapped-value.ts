/** A value of somebody else's as one of ours: factor, states, what means that nothing was measured. */
import type { Column } from '../../vocabulary/quantities.ts';
import { type Fault, readValue } from '../line-meaning.ts';
import { quoteText, quoteValue } from '../quote-value.ts';
import type { MappedQuantity } from './topic-entry.ts';

/** Foreign states are named by people: more than this many different ones are no states. */
const MOST_KINDS = 100;

/** Things that were left out without refusing a reading: how often each. */
export class OddCounts {
  readonly #counts = new Map<string, number>();
  #total = 0;

  count(what: string, times = 1): void {
    this.#total += times;
    if (this.#counts.size < MOST_KINDS || this.#counts.has(what))
      this.#counts.set(what, (this.#counts.get(what) ?? 0) + times);
  }

  /** The most frequent three in words; null where there are none. */
  say(): string | null {
    if (this.#total === 0) return null;
    const most = [...this.#counts].sort(([, a], [, b]) => b - a).slice(0, 3);
    return most.map(([what, times]) => `${what} (${times} ×)`).join('; ');
  }
}

/** A mapping with its column found and its states as a map: made once, used for each message. */
export interface ValueRule {
  readonly column: Column;
  readonly factor: number;
  readonly states: ReadonlyMap<string, string> | null;
}

export function valueRule(column: Column, { factor, states }: MappedQuantity): ValueRule {
  return { column, factor, states: states === null ? null : new Map(Object.entries(states)) };
}

/**
 * @param raw   number, text, true or false, as it was sent
 * @param odds  a state in no map is absent, and counted here; so is a number that is none (NaN)
 * @returns the stored integer, null for absent, or why the reading is refused
 */
export function mappedValue(
  { column, factor, states }: ValueRule,
  raw: unknown,
  odds: OddCounts,
): number | null | Fault {
  const { id, words } = column;
  if (words !== null) {
    const word = states === null ? raw : states.get(String(raw));
    const at = typeof word === 'string' ? words.indexOf(word) : -1;
    if (at >= 0) return at;
    odds.count(`${id} knows no ${typeof raw === 'string' ? quoteText(raw) : quoteValue(raw)}`);
    return null;
  }
  if (typeof raw === 'number' && !Number.isFinite(raw)) {
    odds.count(`${id} is ${raw}, taken as absent`);
    return null;
  }
  return readValue(column, typeof raw === 'number' ? raw * factor : raw);
}
