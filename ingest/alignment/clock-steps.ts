/**
 * Steps that several sources of a site see at one instant: a load that switches, the battery taking over, a grid that
 * goes. Each source brackets the instant between two stamps of its own clock, so that clocks can be compared.
 */
import { SECOND_MS } from '../vocabulary/time.ts';

/** What a step is seen in: units and load meters see the load, units and packs the battery. */
export type StepChannel = 'load' | 'battery';

/** A step between two stamps of one source: it happened in (from, to], by that source's clock. */
export interface ClockStep {
  readonly from: number;
  readonly to: number;
  /** Change as a part of the source's rating (load) or of the bank's capacity an hour (battery); + = up. */
  readonly size: number;
}

/** A change smaller than this part is ripple. */
const SIZE_MIN = 0.04;
/** Before and after a step the source stays where it is, to this part of the step. */
const CALM_PART = 0.25;
/** Two samples further apart than this many intervals bracket nothing. */
const BRACKET_INTERVALS = 2.5;

/**
 * Clean steps of one column, in order of time: one change from one sample to the next, calm before and after.
 *
 * Decided at the second sample after the step, at most 5 intervals later.
 *
 * @param values NaN where absent
 * @param whole  what a size of 1 is in the column's own unit, above 0
 */
export function clockSteps(
  tMs: Float64Array,
  values: Float64Array,
  whole: number,
  sampleIntervalS: number,
): ClockStep[] {
  const steps: ClockStep[] = [];
  const furthestMs = BRACKET_INTERVALS * sampleIntervalS * SECOND_MS;
  const least = SIZE_MIN * whole;
  for (let i = 1; i + 2 < tMs.length; i++) {
    const change = values[i + 1]! - values[i]!;
    // A comparison with NaN is false: a missing value is no step and no calm.
    if (!(Math.abs(change) >= least)) continue;
    const calm = CALM_PART * Math.abs(change);
    if (!(Math.abs(values[i]! - values[i - 1]!) <= calm && Math.abs(values[i + 2]! - values[i + 1]!) <= calm)) continue;
    const isClose = tMs[i + 1]! - tMs[i]! <= furthestMs && tMs[i + 2]! - tMs[i + 1]! <= furthestMs;
    if (!isClose || tMs[i]! - tMs[i - 1]! > furthestMs) continue;
    steps.push({ from: tMs[i]!, to: tMs[i + 1]!, size: Math.round((1000 * change) / whole) / 1000 + 0 });
  }
  return steps;
}

/** How much later one clock stamps a step than another: anywhere in (middleS − halfS, middleS + halfS). */
export interface StepDifference {
  readonly t: number;
  readonly middleS: number;
  readonly halfS: number;
}

/** Two sources see one step alike to this factor: they share by resistance, and read a little apart. */
const LIKE_FACTOR = 1.8;

export function isLikeStep(a: ClockStep, b: ClockStep): boolean {
  const ratio = a.size / b.size;
  return ratio > 1 / LIKE_FACTOR && ratio < LIKE_FACTOR;
}

export function stepDifference(own: ClockStep, other: ClockStep): StepDifference {
  return {
    t: own.to,
    middleS: (own.from + own.to - other.from - other.to) / 2 / SECOND_MS,
    halfS: (own.to - own.from + other.to - other.from) / 2 / SECOND_MS,
  };
}

/**
 * The difference of the likest times: the step of the other source that is nearest to one of ours.
 *
 * @returns null where the other saw nothing alike within the reach
 */
export function nearestDifference(own: ClockStep, others: readonly ClockStep[], reachS: number): StepDifference | null {
  let best: ClockStep | null = null;
  let least = 2 * reachS * SECOND_MS;
  const ownTwice = own.from + own.to;
  for (const other of others) {
    const twice = Math.abs(ownTwice - other.from - other.to);
    if (twice > least || (best !== null && twice === least) || !isLikeStep(own, other)) continue;
    best = other;
    least = twice;
  }
  return best === null ? null : stepDifference(own, best);
}
