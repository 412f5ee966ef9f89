/** How long one value of one source has stood still while what moves with it moved. */

/** A value that stands, and what is usual for it. Counts are moves of what it is held against. */
export interface StuckRun {
  readonly value: number | null;
  /** When it took this value, and the newest reading that said it again. */
  readonly since: number;
  readonly last: number;
  /** Readings that said it. */
  readonly rows: number;
  /** Moves of the others while it stood. */
  readonly moves: number;
  /** The longest stand so far, in moves, and how often the value changed. */
  readonly longestMoves: number;
  readonly changes: number;
  /** When the stand went beyond what is usual; null while it does not. */
  readonly stuckAt: number | null;
}

export const NEW_RUN: StuckRun = {
  value: null,
  since: 0,
  last: 0,
  rows: 0,
  moves: 0,
  longestMoves: 0,
  changes: 0,
  stuckAt: null,
};

export interface StuckRule {
  /** A stand is out of the usual beyond this many moves … */
  readonly movesMin: number;
  /** … and this many times the longest so far. */
  readonly times: number;
  readonly leastMs: number;
  /** A value that changed less often than this is not known to move at all. */
  readonly changesMin: number;
  /** Whether enough was seen to judge. */
  readonly isLearnt: boolean;
  /** Across a longer gap nothing stands still. */
  readonly gapMs: number;
}

/** One column of a day, with the moves of the others up to each of its readings. */
export interface StuckDay {
  readonly tMs: Float64Array;
  readonly values: Float64Array;
  /** Cumulative moves of the others at each row; asked only where a value stands for long, because it costs. */
  readonly moves: () => Float64Array;
  /** Whether a stand at this value may count at all: 0 W is a rest. */
  readonly counts: (value: number) => boolean;
}

export interface StuckSpan {
  readonly since: number;
  readonly stuckAt: number;
  readonly value: number;
  /** The reading at which it moved again. */
  readonly end: number;
  readonly moves: number;
}

/** Takes a day; spans that ended in it are handed out. */
export function takeStuckDay(run: StuckRun, day: StuckDay, rule: StuckRule): { run: StuckRun; ended: StuckSpan[] } {
  const { tMs, values } = day;
  const moves = standsLong(run, day) ? day.moves() : null;
  const ended: StuckSpan[] = [];
  let { value, since, last, rows, longestMoves, changes, stuckAt } = run;
  let stood = run.moves;
  let before = 0;
  for (let row = 0; row < tMs.length; row++) {
    const now = values[row]!;
    if (Number.isNaN(now)) continue;
    const t = tMs[row]!;
    const isGap = t - last > rule.gapMs;
    // What was stuck before a gap and says the same after it is stuck still; what was not has moved for all we know.
    if (value === null || now !== value || (isGap && stuckAt === null)) {
      if (value !== null && stuckAt !== null) ended.push({ since, stuckAt, value, end: t, moves: Math.round(stood) });
      else if (value !== null && day.counts(value)) {
        longestMoves = Math.max(longestMoves, stood);
      }
      if (value !== null && now !== value) changes++;
      value = now;
      since = t;
      stood = 0;
      rows = 1;
      stuckAt = null;
    } else {
      rows++;
      // Where nothing stands for long, a reading stands for a move: no fewer than there are.
      stood += isGap ? 0 : moves === null ? 1 : moves[row]! - before;
      if (stuckAt === null && rule.isLearnt && stood > rule.movesMin && day.counts(value)) {
        const isUnusual = changes >= rule.changesMin && stood > rule.times * longestMoves && t - since > rule.leastMs;
        if (isUnusual) stuckAt = t;
      }
    }
    last = t;
    if (moves !== null) before = moves[row]!;
  }
  return {
    run: {
      value,
      since,
      last,
      rows,
      moves: Math.round(stood * 100) / 100,
      longestMoves: Math.round(longestMoves * 100) / 100,
      changes,
      stuckAt,
    },
    ended,
  };
}

/** A stand of fewer readings can't be stuck. */
const ROWS_LONG = 20;

/** Whether the day holds a stand that may be stuck. */
function standsLong(run: StuckRun, { values, counts }: StuckDay): boolean {
  if (run.stuckAt !== null) return true;
  let { value, rows } = run;
  for (const now of values) {
    if (Number.isNaN(now)) continue;
    rows = now === value ? rows + 1 : 1;
    value = now;
    if (rows > ROWS_LONG && counts(now)) return true;
  }
  return false;
}

/**
 * Moves of what a column is held against, up to each of its readings: of each other source the readings at which it
 * differs from its reading before; of several the lower median, so that one restless source is not all of them.
 *
 * @param others each with its times and values; NaN is no reading
 * @param moved  whether a change of another counts, seen from that row
 */
export function movesUpTo(
  tMs: Float64Array,
  others: readonly { readonly tMs: Float64Array; readonly values: Float64Array }[],
  moved: (before: number, now: number, row: number) => boolean,
): Float64Array {
  const counts = others.map((other) => {
    const own = new Float64Array(tMs.length);
    let count = 0;
    let j = 0;
    let before = Number.NaN;
    for (let row = 0; row < tMs.length; row++) {
      for (; j < other.tMs.length && other.tMs[j]! <= tMs[row]!; j++) {
        const now = other.values[j]!;
        if (Number.isNaN(now)) continue;
        if (now !== before && !Number.isNaN(before) && moved(before, now, row)) count++;
        before = now;
      }
      own[row] = count;
    }
    return own;
  });
  if (counts.length === 0) return new Float64Array(tMs.length);
  if (counts.length === 1) return counts[0]!;
  // The median of the steps and not of the sums, so that what one did not see is not made up later.
  const result = new Float64Array(tMs.length);
  const steps = new Float64Array(counts.length);
  let sum = 0;
  for (let row = 0; row < tMs.length; row++) {
    for (let k = 0; k < counts.length; k++) steps[k] = counts[k]![row]! - (row === 0 ? 0 : counts[k]![row - 1]!);
    sum += steps.sort()[(steps.length - 1) >> 1]!;
    result[row] = sum;
  }
  return result;
}
