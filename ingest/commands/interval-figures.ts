/** Least, mean and greatest value of each column in each interval; exact, because it adds stored integers. */

/** Of the values of one column, in stored integers. */
export interface Figures {
  readonly count: number;
  readonly min: number;
  readonly max: number;
  readonly sum: number;
}

/** Readings in order of time, or the figures of a piece of them that lies in one interval. */
export type IntervalInput =
  | {
      readonly tMs: Float64Array;
      /** Rows [first, end) are asked for. */
      readonly first: number;
      readonly end: number;
      /** By place of the column asked for; NaN where absent. */
      readonly columns: readonly (Float64Array | undefined)[];
    }
  | { readonly t: number; readonly figures: readonly (Figures | null)[] };

export interface Interval {
  /** Start of the interval, epoch ms, a multiple of its length. */
  readonly t: number;
  /** By place of the column; null where no reading of the interval has it. */
  readonly figures: readonly (Figures | null)[];
}

function joined(a: Figures | null, b: Figures | null): Figures | null {
  if (a === null || b === null) return a ?? b;
  return {
    count: a.count + b.count,
    min: Math.min(a.min, b.min),
    max: Math.max(a.max, b.max),
    sum: a.sum + b.sum,
  };
}

/** Figures of the rows [from, to) of a column; null where it has no value there. */
export function figuresOf(values: Float64Array | undefined, from: number, to: number): Figures | null {
  if (values === undefined) return null;
  let count = 0;
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  for (let i = from; i < to; i++) {
    const value = values[i]!;
    if (Number.isNaN(value)) continue;
    count++;
    sum += value;
    if (value < min) min = value;
    if (value > max) max = value;
  }
  return count === 0 ? null : { count, min, max, sum };
}

/** Each input cut where an interval ends. */
function* pieces(input: IntervalInput, everyMs: number): Iterable<Interval> {
  if ('t' in input) {
    yield { t: Math.floor(input.t / everyMs) * everyMs, figures: input.figures };
    return;
  }
  const { tMs, columns, end } = input;
  for (let from = input.first; from < end; ) {
    const t = Math.floor(tMs[from]! / everyMs) * everyMs;
    let to = from + 1;
    while (to < end && tMs[to]! < t + everyMs) to++;
    yield { t, figures: columns.map((values) => figuresOf(values, from, to)) };
    from = to;
  }
}

/**
 * The intervals in which there is a reading, in order.
 *
 * @param inputs  in order of time
 * @param everyMs length of an interval; intervals begin at its multiples since 1970, UTC
 */
export function* intervalsOf(inputs: Iterable<IntervalInput>, everyMs: number): Iterable<Interval> {
  let open: Interval | null = null;
  for (const input of inputs) {
    for (const piece of pieces(input, everyMs)) {
      if (open !== null && open.t === piece.t) {
        const before: Interval = open;
        open = { t: piece.t, figures: before.figures.map((f, i) => joined(f, piece.figures[i]!)) };
      } else {
        if (open !== null) yield open;
        open = piece;
      }
    }
  }
  if (open !== null) yield open;
}
