/** When a drift began: a step or a ramp, whichever explains the deviations better. */

/** A deviation in standard deviations of a bin, in the direction of the drift, at a time in epoch ms. */
export interface Deviation {
  readonly t: number;
  /** Where it speaks for several bins, their sum. */
  readonly score: number;
  /** How many bins it speaks for; absent: one. */
  readonly bins?: number;
}

/**
 * Maximum likelihood over all onsets, for a step (level from then on) and a ramp (rising from then on).
 *
 * @param deviations in order of time, at least 2
 * @returns epoch ms, the time of the first deviating bin
 */
export function onsetOf(deviations: readonly Deviation[]): { readonly t: number; readonly form: 'step' | 'ramp' } {
  let best = { t: deviations[0]!.t, gain: Number.NEGATIVE_INFINITY, form: 'step' as 'step' | 'ramp' };
  let sum = 0;
  let count = 0;
  for (let i = deviations.length - 1; i >= 0; i--) {
    const { t, score, bins = 1 } = deviations[i]!;
    sum += score;
    count += bins;
    const gain = sum > 0 ? (sum * sum) / (2 * count) : 0;
    if (gain > best.gain) best = { t, gain, form: 'step' };
  }
  // One unknown more for a ramp's kink: it has to explain clearly more.
  const stepGain = best.gain + Math.log(count) / 2;
  let rampGain = stepGain;
  // Σ (t−c)·z and Σ (t−c)² for each onset c, carried backwards in hours before the last bin.
  let s0 = 0;
  let s1 = 0;
  let z0 = 0;
  let z1 = 0;
  let s2 = 0;
  const last = deviations.at(-1)!.t;
  for (let i = deviations.length - 1; i > 0; i--) {
    const { t, score, bins = 1 } = deviations[i]!;
    const u = (t - last) / 3_600_000;
    s0 += bins;
    s1 += bins * u;
    s2 += bins * u * u;
    z0 += score;
    z1 += u * score;
    const c = (deviations[i - 1]!.t - last) / 3_600_000;
    const xx = s2 - 2 * c * s1 + c * c * s0;
    const xz = z1 - c * z0;
    if (xx <= 0 || xz <= 0) continue;
    const gain = (xz * xz) / (2 * xx);
    if (gain > rampGain) {
      rampGain = gain;
      best = { t: deviations[i - 1]!.t, gain, form: 'ramp' };
    }
  }
  return { t: best.t, form: best.form };
}
