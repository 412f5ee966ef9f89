/** A clock that is off by minutes or hours: the pattern of steps of one source found again elsewhere in the other's. */
import { SECOND_MS } from '../vocabulary/time.ts';
import { type ClockStep, isLikeStep } from './clock-steps.ts';

/** Further apart nothing is looked for: whole time zones are within it. */
export const FARTHEST_S = 15 * 3600;
const STEPS_MIN = 10;
/** So many of the steps must be found again at one distance … */
const FOUND_PART = 0.5;
/** … and at no distance no more than this part of those: a right clock with periodic loads has both. */
const NEAR_PART = 0.25;
/** The chance that any distance shows so many by accident. */
const ACCIDENT = 1e-7;

/**
 * How much later the first source stamps what both saw, s, or null where no distance stands out.
 *
 * @param own    steps of one source since the clocks stand as they do
 * @param others steps of the other, from as much earlier on as the clocks may stand apart
 */
export function farOffsetS(
  own: readonly ClockStep[],
  others: readonly ClockStep[],
  sampleIntervalS: number,
): number | null {
  if (own.length < STEPS_MIN) return null;
  const distances: number[] = [];
  for (const a of own) {
    for (const b of others) {
      const s = (a.from + a.to - b.from - b.to) / 2 / SECOND_MS;
      if (Math.abs(s) <= FARTHEST_S && isLikeStep(a, b)) distances.push(s);
    }
  }
  if (distances.length === 0) return null;
  distances.sort((a, b) => a - b);
  const width = 2 * sampleIntervalS;
  const { from, count } = fullest(distances, width);
  const near = distances.filter((s) => Math.abs(s) <= 1.5 * sampleIntervalS).length;
  if (count < FOUND_PART * own.length || near > NEAR_PART * count) return null;
  const around = distances.filter((s) => Math.abs(s - from) <= 3600).length - count;
  const usual = Math.max(0.5, (around * width) / 7200);
  if (poissonTail(count, usual) * ((2 * FARTHEST_S) / width) > ACCIDENT) return null;
  const inside = distances.filter((s) => s >= from && s <= from + width);
  return inside.reduce((a, b) => a + b, 0) / inside.length;
}

/** The window of that width that holds most of the sorted values. */
function fullest(sorted: readonly number[], width: number): { from: number; count: number } {
  let best = { from: sorted[0]!, count: 0 };
  let low = 0;
  for (let high = 0; high < sorted.length; high++) {
    while (sorted[high]! - sorted[low]! > width) low++;
    if (high - low + 1 > best.count) best = { from: sorted[low]!, count: high - low + 1 };
  }
  return best;
}

/** Chance of `count` or more where `mean` are usual (Chernoff's bound, so at least as large as the chance itself). */
function poissonTail(count: number, mean: number): number {
  return count <= mean ? 1 : Math.exp(count - mean - count * Math.log(count / mean));
}
