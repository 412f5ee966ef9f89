/** What was proven: each unit's power as a straight line of the total, with its scatter and its own error. */
import { longRunVariance } from '../math/long-run-variance.ts';

/** One loaded bin, small, because hundreds are kept. */
export interface ShareBin {
  readonly t: number;
  readonly totalW: number;
  readonly unitW: readonly number[];
  /** What each unit took in over what it gave out; null where it can't be told. */
  readonly balance: readonly (number | null)[];
  /** Mean output voltage of the units, V; null where one of them sends none. */
  readonly volts: number | null;
  /** Once judged: the greater of each unit's two sums over the threshold, negative where it watches for less. */
  readonly statistic?: readonly number[];
}

export interface UnitLine {
  /** P = offsetW + slope · P_total. */
  readonly offsetW: number;
  readonly slope: number;
  /** Variance of a bin's residual: fixedW2 + relative2 · P_total², W². */
  readonly fixedW2: number;
  readonly relative2: number;
  /** Long-run variance over variance: how much less a bin says than an independent one. At least 1. */
  readonly inflation: number;
  /** Mean and scatter of the balance; null where too few bins have one. */
  readonly balance: { readonly mean: number; readonly sd: number } | null;
}

/** How the voltage of the node goes with the load: V = offsetV + slope · P_total. */
export interface NodeLine {
  readonly offsetV: number;
  /** V/W. */
  readonly slope: number;
  /** Scatter of a bin about the line, V. */
  readonly sd: number;
  /** Part of the scatter of the voltage that the load explains, 0 to 1. */
  readonly explained: number;
}

export interface ShareBaseline {
  readonly from: number;
  readonly to: number;
  readonly bins: number;
  readonly totalMeanW: number;
  /** Σ (P_total − mean)², W², with the prior on the offset worked in. */
  readonly totalSquaresW2: number;
  readonly lines: readonly UnitLine[];
  /** null where too few bins have a voltage. */
  readonly node: NodeLine | null;
  /** Some of its bins, for the eye. */
  readonly sample: readonly { readonly totalW: number; readonly unitW: readonly number[] }[];
}

/** A bin's share can't be known better than this, points: meters have their own slow wander. */
const SCATTER_MIN_POINTS = 0.3;
const INFLATION_MAX = 8;
/** A short baseline can't show how its bins hang together. */
const FEW_BINS = 50;
const INFLATION_OF_FEW = 2;
const SAMPLE_BINS = 90;
/** Before any data an offset of this share of the rating would not surprise. */
const OFFSET_PRIOR = 0.05;

/**
 * Fits the baseline of a group.
 *
 * Least squares with a weak prior on the offset: over a narrow range of loads slope and offset can't be told
 * apart, and without it the line would run wild outside the range.
 *
 * @param bins at least 2, in order of time
 * @param ratedW mean rating of a unit of the group
 */
export function fitBaseline(bins: readonly ShareBin[], ratedW: number): ShareBaseline {
  const count = bins.length;
  const totalMeanW = bins.reduce((sum, bin) => sum + bin.totalW, 0) / count;
  const sxx = bins.reduce((sum, bin) => sum + (bin.totalW - totalMeanW) ** 2, 0);
  const units = bins[0]!.unitW.length;
  const lines = Array.from({ length: units }, (_, unit) => fitLine(bins, unit, totalMeanW, sxx, ratedW));
  const every = Math.ceil(count / SAMPLE_BINS);
  const sample = bins.filter((_, i) => i % every === 0).map(({ totalW, unitW }) => ({ totalW, unitW }));
  const node = fitNode(bins);
  return { from: bins[0]!.t, to: bins.at(-1)!.t, bins: count, totalMeanW, totalSquaresW2: sxx, lines, node, sample };
}

const NODE_BINS_MIN = 8;
/** Meters of voltage wander by themselves. */
const NODE_SCATTER_MIN_V = 0.05;

function fitNode(bins: readonly ShareBin[]): NodeLine | null {
  const points = bins.flatMap(({ totalW, volts }) => (volts === null ? [] : [{ x: totalW, y: volts }]));
  const n = points.length;
  if (n < NODE_BINS_MIN) return null;
  const x = points.reduce((sum, p) => sum + p.x, 0) / n;
  const y = points.reduce((sum, p) => sum + p.y, 0) / n;
  const sxx = points.reduce((sum, p) => sum + (p.x - x) ** 2, 0);
  const sxy = points.reduce((sum, p) => sum + (p.x - x) * (p.y - y), 0);
  const syy = points.reduce((sum, p) => sum + (p.y - y) ** 2, 0);
  if (!(sxx > 0)) return null;
  const slope = sxy / sxx;
  const left = Math.max(0, syy - slope * sxy);
  return {
    offsetV: y - slope * x,
    slope,
    sd: Math.max(NODE_SCATTER_MIN_V, Math.sqrt(left / (n - 2))),
    explained: syy > 0 ? 1 - left / syy : 0,
  };
}

function fitLine(bins: readonly ShareBin[], unit: number, xMean: number, sxx: number, ratedW: number): UnitLine {
  const count = bins.length;
  const y = bins.map((bin) => bin.unitW[unit]!);
  const yMean = y.reduce((a, b) => a + b, 0) / count;
  const sxy = bins.reduce((sum, bin, i) => sum + (bin.totalW - xMean) * (y[i]! - yMean), 0);
  // A prior of zero on the offset yMean − slope·xMean, worth as much as one bin with a scatter of 1 % of the total.
  const priorWeight = ((0.01 * xMean) / (OFFSET_PRIOR * ratedW)) ** 2;
  const slope = (sxy + priorWeight * xMean * yMean) / (sxx + priorWeight * xMean * xMean);
  const offsetW = yMean - slope * xMean;
  const residuals = bins.map((bin, i) => y[i]! - offsetW - slope * bin.totalW);
  const { fixedW2, relative2 } = scatter(bins, residuals);
  const scores = residuals.map((r, i) => r / Math.sqrt(fixedW2 + relative2 * bins[i]!.totalW ** 2));
  const meanSquare = scores.reduce((sum, z) => sum + z * z, 0) / count;
  const longRun = longRunVariance(scores)?.variance ?? meanSquare;
  const measured = meanSquare > 0 ? Math.min(INFLATION_MAX, Math.max(1, longRun / meanSquare)) : 1;
  const inflation = count < FEW_BINS ? Math.max(measured, INFLATION_OF_FEW) : measured;
  return { offsetW, slope, fixedW2, relative2, inflation, balance: balanceOf(bins, unit) };
}

function balanceOf(bins: readonly ShareBin[], unit: number): UnitLine['balance'] {
  const ratios = bins.flatMap(({ balance }) => balance[unit] ?? []);
  if (ratios.length < 8) return null;
  const mean = ratios.reduce((a, b) => a + b, 0) / ratios.length;
  const sd = Math.sqrt(ratios.reduce((sum, r) => sum + (r - mean) ** 2, 0) / (ratios.length - 1));
  return { mean, sd };
}

/** Residual variance as fixed + relative · total²: meters have both. Non-negative least squares in two unknowns. */
function scatter(bins: readonly ShareBin[], residuals: readonly number[]): { fixedW2: number; relative2: number } {
  const floor2 = (SCATTER_MIN_POINTS / 100) ** 2;
  let s2 = 0;
  let s4 = 0;
  let r = 0;
  let rx = 0;
  for (const [i, bin] of bins.entries()) {
    const x2 = bin.totalW ** 2;
    const e2 = residuals[i]! ** 2;
    s2 += x2;
    s4 += x2 * x2;
    r += e2;
    rx += e2 * x2;
  }
  const n = bins.length;
  const freedom = n / Math.max(1, n - 2);
  const determinant = n * s4 - s2 * s2;
  let fixedW2 = determinant > 0 ? (r * s4 - rx * s2) / determinant : 0;
  let relative2 = determinant > 0 ? (n * rx - r * s2) / determinant : r / s2;
  if (!(fixedW2 > 0)) {
    fixedW2 = 0;
    relative2 = rx / s4;
  } else if (!(relative2 > 0)) {
    relative2 = 0;
    fixedW2 = r / n;
  }
  return { fixedW2: fixedW2 * freedom, relative2: Math.max(relative2 * freedom, floor2) };
}

/** How a bin stands to the baseline, in points of share of the total. */
export interface ShareDeviation {
  /** (measured − line) ÷ total · 100. */
  readonly points: number;
  /** Standard deviation of one bin about the line. */
  readonly scatterPoints: number;
  /** Standard error of the line itself at this load: it is the same for bins to come, so it is taken off, not averaged. */
  readonly linePoints: number;
}

export function deviationOf(baseline: ShareBaseline, unit: number, totalW: number, unitW: number): ShareDeviation {
  const { offsetW, slope, fixedW2, relative2, inflation } = baseline.lines[unit]!;
  const variance = fixedW2 + relative2 * totalW * totalW;
  const distance2 = (totalW - baseline.totalMeanW) ** 2;
  // A baseline of one load only knows nothing of the slope; a spread of 5 % of the mean stands in for it.
  const squares = Math.max(baseline.totalSquaresW2, baseline.bins * (0.05 * baseline.totalMeanW) ** 2);
  const lineVariance = variance * inflation * (1 / baseline.bins + distance2 / squares);
  const points = 100 / totalW;
  return {
    points: (unitW - offsetW - slope * totalW) * points,
    scatterPoints: Math.sqrt(variance) * points,
    linePoints: Math.sqrt(lineVariance) * points,
  };
}
