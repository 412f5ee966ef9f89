/** Watches each pack's part of the changes of current against its own baseline: a worse path takes less of them. */
import type { PackStepHour } from '../alignment/pack-steps.ts';
import { longRunVariance } from '../math/long-run-variance.ts';
import { DAY_MS, dayOf } from '../vocabulary/time.ts';
import { CURRENT_PART_FALL } from './_current-part.ts';
import { END_THRESHOLD, type Observation, stepLevel, stepUp } from './_llr-cusum.ts';
import { onsetOf } from './_share-onset.ts';

const BASELINE_DAYS = 7;
const BASELINE_HOURS = 6;
const SCATTER_MIN = 0.06;
const INFLATION_MIN = 2;
const INFLATION_MAX = 12;
const RECENT_HOURS = 200;

interface StepBaseline {
  readonly hours: number;
  readonly packs: readonly { readonly mean: number; readonly scatter: number; readonly inflation: number }[];
}

export interface StepWatch {
  readonly learning: readonly PackStepHour[];
  readonly baseline: StepBaseline | null;
  readonly sums: readonly number[];
  readonly recent: readonly PackStepHour[];
}

export function newStepWatch(packs: number): StepWatch {
  return { learning: [], baseline: null, sums: Array.from({ length: packs }, () => 0), recent: [] };
}

function fitSteps(hours: readonly PackStepHour[]): StepBaseline {
  const packs = hours[0]!.parts.map((_, pack) => {
    const parts = hours.map((h) => h.parts[pack]!);
    const mean = parts.reduce((a, b) => a + b, 0) / parts.length;
    const variance = parts.reduce((sum, p) => sum + (p - mean) ** 2, 0) / Math.max(1, parts.length - 1);
    const longRun = longRunVariance(parts)?.variance ?? variance;
    const inflation =
      variance > 0 ? Math.min(INFLATION_MAX, Math.max(INFLATION_MIN, longRun / variance)) : INFLATION_MIN;
    return { mean, scatter: Math.max(SCATTER_MIN, Math.sqrt(variance)), inflation };
  });
  return { hours: hours.length, packs };
}

/** The fall of a pack's part below its baseline. */
function observe(baseline: StepBaseline, pack: number, hour: PackStepHour): Observation {
  const { mean, scatter, inflation } = baseline.packs[pack]!;
  const baselineError = scatter * Math.sqrt(inflation / baseline.hours);
  return { deviation: mean - hour.parts[pack]!, scatter, inflation, baselineError };
}

export interface StepFall {
  readonly watch: StepWatch;
  /** The pack whose part has fallen, since when; null while none has. */
  readonly fallen: { readonly pack: number; readonly start: number } | null;
}

/** Takes an hour while nothing is open. */
export function watchSteps(watch: StepWatch, hour: PackStepHour, threshold: number): StepFall {
  const { baseline, learning } = watch;
  if (baseline === null) {
    const isLearnt =
      learning.length >= BASELINE_HOURS && dayOf(hour.t) - dayOf(learning[0]!.t) >= BASELINE_DAYS * DAY_MS;
    if (!isLearnt) return { watch: { ...watch, learning: [...learning, hour] }, fallen: null };
    return watchSteps({ ...watch, learning: [], baseline: fitSteps(learning) }, hour, threshold);
  }
  const recent = [...watch.recent, hour].slice(-RECENT_HOURS);
  const sums = watch.sums.map((sum, pack) => {
    const { mean } = baseline.packs[pack]!;
    return mean <= 0.2 ? 0 : stepUp(sum, observe(baseline, pack, hour), { shift: CURRENT_PART_FALL * mean, threshold });
  });
  const next = { ...watch, recent, sums };
  const pack = sums.indexOf(Math.max(...sums));
  if (!(sums[pack]! > threshold)) return { watch: next, fallen: null };
  const scores = recent.map((h) => {
    const { deviation, scatter, inflation } = observe(baseline, pack, h);
    return { t: h.t, score: deviation / (scatter * Math.sqrt(inflation)) };
  });
  return { watch: next, fallen: { pack, start: onsetOf(scores).t } };
}

/** Takes an hour while a fall is open: the sum that watches for the return of the pack's part. */
export function watchReturn(
  watch: StepWatch,
  pack: number,
  levelSum: number,
  hour: PackStepHour,
): { readonly watch: StepWatch; readonly levelSum: number; readonly isOver: boolean } {
  const { baseline } = watch;
  if (baseline === null) return { watch, levelSum, isOver: false };
  const sum = stepLevel(levelSum, observe(baseline, pack, hour), CURRENT_PART_FALL * baseline.packs[pack]!.mean);
  return {
    watch: { ...watch, recent: [...watch.recent, hour].slice(-RECENT_HOURS) },
    levelSum: sum,
    isOver: sum > END_THRESHOLD,
  };
}

/** After an end: nothing of what was over is kept. */
export function resetSteps(watch: StepWatch): StepWatch {
  return { ...watch, sums: watch.sums.map(() => 0), recent: [] };
}
