/** Works on; may stop or restart, unharmed; may be damaged. */
export type IticVerdict = 'no interruption' | 'may stop' | 'may be damaged';

/** Longest time in ms at which the voltage may still be as low as this, % of nominal. */
const LOW_STEPS: readonly (readonly [longestMs: number, lowPct: number])[] = [
  [20, 0],
  [500, 70],
  [10_000, 80],
  [Number.POSITIVE_INFINITY, 90],
];

/** Longest time in ms at which the voltage may still be as high as this, % of nominal, from 1 ms on. */
const HIGH_STEPS: readonly (readonly [longestMs: number, highPct: number])[] = [
  [3, 140],
  [500, 120],
  [Number.POSITIVE_INFINITY, 110],
];

/** A hundredth of a 60 Hz cycle: the curve begins here, at 500 %. */
const SHORTEST_MS = 1 / 6;

/**
 * Where a disturbance lies on the ITIC curve: would information-technology equipment have worked on?
 *
 * @param voltagePct  RMS (or, under half a cycle, peak) voltage meanwhile, % of nominal, at least 0
 * @param durationMs  how long, ms, above 0; a point on the curve counts as withstood
 * @returns the verdict; between 0.17 and 1 ms the upper limit falls from 500 to 200 % on a straight line over log time
 *          (this piece and the 200 % are from memory, unverified)
 * @throws RangeError  if the voltage is not at least 0 or the duration not above 0
 * @see ITI (CBEMA) Curve Application Note, Information Technology Industry Council, 2000
 */
export function iticVerdict(voltagePct: number, durationMs: number): IticVerdict {
  if (!(voltagePct >= 0))
    throw new RangeError(`Cannot place on the ITIC curve: voltage ${voltagePct} % is not at least 0`);
  if (!(durationMs > 0))
    throw new RangeError(`Cannot place on the ITIC curve: duration ${durationMs} ms is not above 0`);
  if (voltagePct > highLimitPct(durationMs)) return 'may be damaged';
  return voltagePct < stepAt(LOW_STEPS, durationMs) ? 'may stop' : 'no interruption';
}

function highLimitPct(durationMs: number): number {
  if (durationMs > 1) return stepAt(HIGH_STEPS, durationMs);
  const covered = Math.log(Math.max(durationMs, SHORTEST_MS) / SHORTEST_MS) / Math.log(1 / SHORTEST_MS);
  return 500 - 300 * covered;
}

function stepAt(steps: readonly (readonly [number, number])[], durationMs: number): number {
  return steps.find(([longestMs]) => durationMs <= longestMs)![1];
}
