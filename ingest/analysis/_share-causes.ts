/** Why a share moved: the models of domain.md compared on the bins since the onset. */
import type { SharingMode } from '../alignment/power-bins.ts';
import { weightsFromLogLikelihoods } from '../math/weights-from-log-likelihoods.ts';
import type { SharingLaw } from '../site/record.ts';
import type { Cause, WeighedCause } from '../vocabulary/finding.ts';
import type { ShareBaseline, ShareBin } from './_share-baseline.ts';
import { isDroop } from './_share-node.ts';

/** A unit that delivers less than this share of what it should carries nothing. */
const NOTHING = 0.1;
/** What a unit that carries nothing may still read, as a share of what it should carry: its own draw, its meter's zero. */
const IDLE = 0.03;
/** How likely each cause is before the figures speak: terminals loosen more often than meters. Common practice. */
const PRIOR = {
  feeder_resistance: 0.4,
  setpoint_offset: 0.2,
  unit_limited: 0.2,
  unit_not_carrying: 0.1,
  measurement_scale: 0.1,
} as const;
const clamp = (value: number, limit: number): number => Math.max(-limit, Math.min(limit, value));

type ShareCause = keyof typeof PRIOR;
/** A balance is never known better than to one part in a hundred. */
const BALANCE_ERROR_MIN = 0.01;

interface Model {
  readonly cause: ShareCause;
  /** Σ residual² ÷ variance over the bins. */
  readonly misfit: number;
  readonly unknowns: number;
  /** Further log-likelihood from figures other than the powers. */
  readonly extra: number;
}

export interface ShareCauses {
  readonly causes: readonly WeighedCause[];
  /** Factor on the unit's own line: 1 is unchanged. */
  readonly factor: number;
  /** Change of the offset that fits best at an unchanged slope, W. */
  readonly offsetChangeW: number;
  /** Power at which the unit stops, W; null where no ceiling fits. */
  readonly ceilingW: number | null;
}

/**
 * Weighs the causes of a drift of one unit.
 *
 * @param bins the loaded bins since the onset; at least 1
 * @param law  what the record says of this mode; in wired operation setpoints play no part
 */
export function shareCauses(
  baseline: ShareBaseline,
  unit: number,
  bins: readonly ShareBin[],
  mode: SharingMode,
  law: SharingLaw | null,
): ShareCauses {
  const line = baseline.lines[unit]!;
  const expected = bins.map((bin) => line.offsetW + line.slope * bin.totalW);
  const measured = bins.map((bin) => bin.unitW[unit]!);
  const variance = bins.map((bin) => (line.fixedW2 + line.relative2 * bin.totalW ** 2) * line.inflation);
  const misfit = (model: (k: number) => number): number =>
    measured.reduce((sum, y, k) => sum + (y - model(k)) ** 2 / variance[k]!, 0);
  const weighted = (value: (k: number) => number): number =>
    bins.reduce((sum, _, k) => sum + value(k) / variance[k]!, 0);

  const factor = factorOf(baseline, unit, bins);
  const offsetChangeW = weighted((k) => measured[k]! - expected[k]!) / weighted(() => 1);
  const ceilingW = bestCeiling(expected, measured, misfit);
  // A unit that gives next to nothing has no path left whose resistance, and no limit whose height, could be told.
  const isNothing = factor < NOTHING;
  const slopeMisfit = misfit((k) => factor * expected[k]!);
  const balance = balanceEvidence(baseline, unit, bins, factor);

  const models: Model[] = [{ cause: 'measurement_scale', misfit: slopeMisfit, unknowns: 1, extra: balance.meter }];
  if (!isNothing) models.push({ cause: 'feeder_resistance', misfit: slopeMisfit, unknowns: 1, extra: balance.real });
  if (isDroop(baseline, mode, law)) {
    models.push({
      cause: 'setpoint_offset',
      misfit: misfit((k) => expected[k]! + offsetChangeW),
      unknowns: 1,
      extra: balance.real,
    });
  }
  if (ceilingW !== null && !isNothing)
    models.push({
      cause: 'unit_limited',
      misfit: misfit((k) => Math.min(expected[k]!, ceilingW)),
      unknowns: 1,
      extra: balance.real,
    });
  if (isNothing)
    models.push({
      cause: 'unit_not_carrying',
      misfit: misfit((k) => clamp(measured[k]!, IDLE * Math.abs(expected[k]!))),
      unknowns: 0,
      extra: 0,
    });
  return { causes: weigh(models, bins.length), factor, offsetChangeW, ceilingW };
}

/** Factor on the unit's own line that fits the bins best: 1 is unchanged, and so is a line of nothing. */
export function factorOf(baseline: ShareBaseline, unit: number, bins: readonly ShareBin[]): number {
  const { offsetW, slope, fixedW2, relative2 } = baseline.lines[unit]!;
  let xx = 0;
  let xy = 0;
  for (const { totalW, unitW } of bins) {
    const expected = offsetW + slope * totalW;
    const variance = fixedW2 + relative2 * totalW ** 2;
    xx += expected ** 2 / variance;
    xy += (unitW[unit]! * expected) / variance;
  }
  return xx > 0 ? xy / xx : 1;
}

function weigh(models: readonly Model[], bins: number): WeighedCause[] {
  // No model is exact: where even the best leaves more than the noise, all are judged by what the best leaves.
  const scale = Math.max(1, Math.min(...models.map((m) => m.misfit)) / bins);
  const scores = models.map(
    ({ misfit, unknowns, extra }) => -0.5 * (misfit / scale) - 0.5 * unknowns * Math.log(Math.max(2, bins)) + extra,
  );
  const weights = weightsFromLogLikelihoods(
    scores,
    models.map(({ cause }) => PRIOR[cause]),
  );
  if (weights === null) return [];
  return models
    .map(({ cause }, i) => ({ cause: cause as Cause, weight: Math.round(weights[i]! * 100) / 100 }))
    .filter(({ weight }) => weight > 0)
    .sort((a, b) => b.weight - a.weight);
}

/** The ceiling of least misfit, tried at each measured power; null where none below the expected powers fits. */
function bestCeiling(
  expected: readonly number[],
  measured: readonly number[],
  misfit: (model: (k: number) => number) => number,
): number | null {
  const sorted = [...measured].sort((a, b) => a - b);
  const tries = Array.from({ length: 24 }, (_, i) => sorted[Math.floor(((i + 0.5) / 24) * sorted.length)]!);
  let best: { ceilingW: number; misfit: number } | null = null;
  for (const ceilingW of tries) {
    if (ceilingW <= 0 || !expected.some((e) => e > ceilingW)) continue;
    const m = misfit((k) => Math.min(expected[k]!, ceilingW));
    if (best === null || m < best.misfit) best = { ceilingW, misfit: m };
  }
  return best?.ceilingW ?? null;
}

/**
 * What the unit takes in over what it says it gives out: a meter that reads wrong moves it, a loose terminal does not.
 *
 * @param factor measured share over the proven one; a meter gain g gives factor = g ÷ (1 + (g − 1)·slope)
 */
export function balanceEvidence(
  baseline: ShareBaseline,
  unit: number,
  bins: readonly ShareBin[],
  factor: number,
): { real: number; meter: number } {
  const line = baseline.lines[unit]!;
  const now = bins.flatMap(({ balance }) => balance[unit] ?? []);
  if (line.balance === null || now.length < 4) return { real: 0, meter: 0 };
  const mean = now.reduce((a, b) => a + b, 0) / now.length;
  const gain = (factor * (1 - line.slope)) / (1 - factor * line.slope);
  if (!(gain > 0)) return { real: 0, meter: 0 };
  const error = Math.max(BALANCE_ERROR_MIN, line.balance.sd / Math.sqrt(now.length));
  const logLikelihood = (expected: number): number => -0.5 * ((mean - expected) / error) ** 2;
  return { real: logLikelihood(line.balance.mean), meter: logLikelihood(line.balance.mean / gain) };
}
