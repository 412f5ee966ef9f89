/**
 * How two clocks stand to each other: two sequential tests on the differences of the steps that both saw.
 *
 * The middle of a difference is unbiased only if steps fall anywhere between samples. A timer that switches on the minute
 * and samples taken on the minute are locked to each other, and then the middle can be wrong by a whole interval. So an
 * offset within it is raised only where differences also exclude zero outright, which no locking brings about.
 */
import type { StepDifference } from '../alignment/clock-steps.ts';
import { END_THRESHOLD, stepLevel, stepUp } from './_llr-cusum.ts';

/** An offset that matters, s. Our own choice: above what a gateway's own delay explains. */
export const CLOCK_LIMIT_S = 5;
/** A pack's management system answers later than a unit: between kinds so much more is granted, s. */
const KINDS_APART_S = 5;
/** The tests speak for offsets beyond this part of the limit, or beyond this part of the interval. */
const BEYOND_PART = 0.75;
const LOCKED_PART = 0.55;
/** Differences that are locked repeat themselves: from one to the next they move by less than this part of their half. */
const MOVING_MIN = 0.25;
/** Beyond this part of the interval no locking reaches. */
const UNLOCKED_PART = 1.05;
const EXCLUDED_MIN = 3;
/** Steps of one minute hang together. */
const INFLATION = 1.5;
/** Hours kept: all since a test last stood at nothing, but no more and no fewer than these. */
const KEPT_MAX = 96;
const KEPT_MIN = 24;
/** Two steps in a row that are found again: what was missed before was accident. */
const FOUND_AGAIN = 2;
/** Where fewer of the steps are found again, what is found is accident, too. */
const FOUND_MIN = 0.4;
/** How fast the share of steps found again follows. */
const FOUND_RATE = 0.1;
const NOISE_S2 = 1;
/** One step in nine may be taken for another: ln of the odds, so that no few of them make an offset. */
const ONE_STEP = Math.log(8);

export interface ClockPair {
  /** Sums of the test for small offsets, later and earlier. */
  readonly near: readonly [number, number];
  /** Sums of the test for what half an interval can't explain. */
  readonly wide: readonly [number, number];
  /** Differences that exclude zero, later and earlier, since the sums began. */
  readonly excluded: readonly [number, number];
  /** Share of the steps that were found again in the other source, slowed. */
  readonly found: number;
  /** Newest hours with differences: [t of the first, how many, sum of the middles in s, mean half in s]. */
  readonly recent: readonly (readonly [number, number, number, number])[];
  /** Since when steps are missed in the other source; null where they are found. */
  readonly missedSince: number | null;
  readonly hits: number;
  /** How far differences move from one to the next, as a part of their half, slowed; and the last of them, s. */
  readonly moving: number;
  readonly lastS: number;
  /** An offset too large for the tests, s: the pattern stands out there; null where none does. */
  readonly farS: number | null;
}

export const NEW_PAIR: ClockPair = {
  near: [0, 0],
  wide: [0, 0],
  excluded: [0, 0],
  found: 1,
  recent: [],
  missedSince: null,
  hits: 0,
  moving: 0,
  lastS: 0,
  farS: null,
};

export function limitS(isOneKind: boolean): number {
  return isOneKind ? CLOCK_LIMIT_S : CLOCK_LIMIT_S + KINDS_APART_S;
}

/** Standard deviation of a middle, s: two instants, each uniform in its bracket. */
export const scatterS = (halfS: number): number => Math.sqrt((2 * (halfS * halfS)) / 12 + NOISE_S2);

export interface PairTest {
  readonly limitS: number;
  readonly intervalS: number;
  readonly threshold: number;
}

/** A step of the one that the other may have seen, too; `t` is its time. */
function takeDifference(pair: ClockPair, t: number, difference: StepDifference | null, test: PairTest): ClockPair {
  const found = thousandths(pair.found + FOUND_RATE * ((difference === null ? 0 : 1) - pair.found));
  if (difference === null) return { ...pair, found, hits: 0, missedSince: pair.missedSince ?? t };
  const hits = pair.hits + 1;
  const { middleS, halfS } = difference;
  const near = sumsWith(pair.near, difference, BEYOND_PART * test.limitS, test);
  const wide = sumsWith(pair.wide, difference, wideS(test), test);
  const isQuiet = near[0] === 0 && near[1] === 0;
  return {
    ...pair,
    near: [Math.min(near[0], 1.5 * test.threshold), Math.min(near[1], 1.5 * test.threshold)],
    wide,
    excluded: isQuiet
      ? [0, 0]
      : [pair.excluded[0] + (middleS > halfS + 1 ? 1 : 0), pair.excluded[1] + (-middleS > halfS + 1 ? 1 : 0)],
    found,
    hits,
    moving: thousandths(pair.moving + FOUND_RATE * (Math.abs(middleS - pair.lastS) / halfS - pair.moving)),
    lastS: middleS,
    missedSince: hits >= FOUND_AGAIN ? null : pair.missedSince,
  };
}

const wideS = ({ limitS: s, intervalS }: PairTest): number => Math.max(BEYOND_PART * s, LOCKED_PART * intervalS);

function sumsWith(
  [late, early]: readonly [number, number],
  { middleS, halfS }: StepDifference,
  beyondS: number,
  { threshold }: PairTest,
): [number, number] {
  const seen = { scatter: scatterS(halfS), inflation: INFLATION, baselineError: 0 };
  const shiftTest = { shift: 2 * beyondS, threshold };
  return [
    tenThousandths(Math.min(late + ONE_STEP, stepUp(late, { ...seen, deviation: middleS }, shiftTest))),
    tenThousandths(Math.min(early + ONE_STEP, stepUp(early, { ...seen, deviation: -middleS }, shiftTest))),
  ];
}

/**
 * The steps of an hour, and what the other source saw of each.
 *
 * @param times of the steps, in order
 * @param seen  one a step
 */
export function takeHourOfSteps(
  before: ClockPair,
  times: readonly number[],
  seen: readonly (StepDifference | null)[],
  test: PairTest,
): ClockPair {
  let pair = before;
  let count = 0;
  let middles = 0;
  let halves = 0;
  let first: number | null = null;
  for (const [k, difference] of seen.entries()) {
    pair = takeDifference(pair, times[k]!, difference, test);
    if (difference === null) continue;
    first ??= difference.t;
    count++;
    middles += difference.middleS;
    halves += difference.halfS;
  }
  if (first === null) return pair;
  const isQuiet = pair.near[0] === 0 && pair.near[1] === 0;
  const hour = [first, count, tenThousandths(middles), tenThousandths(halves / count)] as const;
  return { ...pair, recent: [...pair.recent.slice(isQuiet ? 1 - KEPT_MIN : 1 - KEPT_MAX), hour] };
}

const thousandths = (value: number): number => Math.round(value * 1000) / 1000 + 0;
const tenThousandths = (value: number): number => Math.round(value * 10_000) / 10_000 + 0;

/** 1 where the first clock is late, −1 where it is early, 0 where nothing is shown. */
export function signOf(pair: ClockPair, threshold: number): -1 | 0 | 1 {
  if (pair.farS !== null) return pair.farS > 0 ? 1 : -1;
  if (pair.found < FOUND_MIN) return 0;
  for (const side of [0, 1] as const) {
    const sign = side === 0 ? 1 : -1;
    const [own, other] = [pair.excluded[side], pair.excluded[1 - side]!];
    if (pair.wide[side] > threshold && isUnlocked(pair, sign)) return sign;
    if (pair.near[side] > threshold && own >= EXCLUDED_MIN * (1 + other)) return sign;
  }
  return 0;
}

/** Whether what half an interval can't explain can't come from steps that are locked to the samples either. */
function isUnlocked({ moving, recent }: ClockPair, sign: 1 | -1): boolean {
  if (moving >= MOVING_MIN) return true;
  const [, count = 1, middles = 0, half = 0] = recent.at(-1) ?? [];
  return (sign * middles) / count > UNLOCKED_PART * half;
}

/**
 * Whether a difference is larger than values that were held may stand: what is seen in the battery is often kept by a device
 * or a gateway for up to an interval, and stamped when it is asked for.
 */
export function isBeyondHeld(pair: ClockPair, intervalS: number): boolean {
  if (pair.farS !== null) return true;
  const newest = pair.recent.slice(-3);
  const steps = newest.reduce((sum, [, count]) => sum + count, 0);
  const middles = newest.reduce((sum, [, , own]) => sum + own, 0);
  return steps > 0 && Math.abs(middles / steps) > UNLOCKED_PART * intervalS;
}

/** Mean difference since `from` and its standard error, s; of a far offset that offset. null without a step since. */
export function meanDifference(
  pair: ClockPair,
  from: number,
): { offsetS: number; errorS: number; steps: number } | null {
  const since = pair.recent.filter(([t]) => t >= from);
  const steps = since.reduce((sum, [, count]) => sum + count, 0);
  if (pair.farS !== null) return { offsetS: pair.farS, errorS: 1, steps };
  if (steps === 0) return null;
  const offsetS = since.reduce((sum, [, , middles]) => sum + middles, 0) / steps;
  const variance = since.reduce((sum, [, count, , half]) => sum + count * scatterS(half) ** 2, 0) / steps;
  return { offsetS, errorS: Math.sqrt((INFLATION * variance) / steps), steps };
}

/** The sum that watches for a return of two clocks; ends an offset when it exceeds `END_THRESHOLD`. */
export function takeReturn(
  sum: number,
  difference: StepDifference,
  { sign, sizeS }: { readonly sign: 1 | -1; readonly sizeS: number },
  test: PairTest,
): number {
  return stepLevel(
    sum,
    {
      deviation: sign * difference.middleS,
      scatter: scatterS(difference.halfS),
      inflation: INFLATION,
      baselineError: 0,
    },
    Math.max(2 * BEYOND_PART * test.limitS, sizeS),
  );
}

export const hasReturned = (sum: number): boolean => sum > END_THRESHOLD;
