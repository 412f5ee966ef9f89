import { type NumberType, type Order, rawNumber } from './raw-value.ts';

/** A value of several registers as it was read, once or several times. */
export interface WordSample {
  readonly name: string;
  readonly type: NumberType;
  readonly bytes: Order;
  readonly reads: readonly Uint16Array[];
}

export interface Proposal<Word extends string> {
  /** Null: cannot tell. */
  readonly says: Word | null;
  readonly because: string;
}

/** One order must make a whole number this many times smaller to be the likelier one. */
const TIMES_SMALLER = 256;
/** Measurements lie within these, whatever their unit; the wrong order of a float lies far outside. */
const FLOAT_LEAST = 1e-4;
const FLOAT_MOST = 1e9;

function isPlausibleFloat(value: number): boolean {
  const size = Math.abs(value);
  return value === 0 || (size >= FLOAT_LEAST && size <= FLOAT_MOST);
}

/** Which order makes this value likelier; null: either might be. */
function voteOf({ type, bytes, reads }: WordSample): Order | null {
  const inOrder = (words: Order) => reads.map((read) => rawNumber(type, read, { words, bytes }));
  const high = inOrder('high_first');
  const low = inOrder('low_first');
  if (type.startsWith('float')) {
    const isHigh = high.every(isPlausibleFloat);
    const isLow = low.every(isPlausibleFloat);
    return isHigh === isLow ? null : isHigh ? 'high_first' : 'low_first';
  }
  // Of a counter the change between two reads tells most: a carry into the wrong word is a leap.
  const first = high[0];
  const last = high.at(-1);
  const sizes =
    reads.length > 1 && first !== last
      ? [Math.abs((last ?? 0) - (first ?? 0)), Math.abs((low.at(-1) ?? 0) - (low[0] ?? 0))]
      : [Math.abs(first ?? 0), Math.abs(low[0] ?? 0)];
  const [ifHigh = 0, ifLow = 0] = sizes;
  if (ifHigh * TIMES_SMALLER < ifLow) return 'high_first';
  return ifLow * TIMES_SMALLER < ifHigh ? 'low_first' : null;
}

/** Proposes which register of a value of several comes first: the order in which the values are likely ones. */
export function proposeWordOrder(samples: readonly WordSample[]): Proposal<Order> {
  const votes = samples
    .filter(({ reads }) => reads.length > 0)
    .map((sample) => ({ name: sample.name, vote: voteOf(sample) }))
    .filter(({ vote }) => vote !== null);
  const [first] = votes;
  if (samples.length === 0) return { says: null, because: 'no value of several registers was read' };
  if (first === undefined) return { says: null, because: 'the values that were read are as likely in either order' };
  const against = votes.find(({ vote }) => vote !== first.vote);
  if (against !== undefined)
    return { says: null, because: `${first.name} is likelier ${first.vote}, ${against.name} likelier ${against.vote}` };
  return {
    says: first.vote,
    because: `${votes.map(({ name }) => name).join(', ')} would be unlikely figures otherwise`,
  };
}
