/**
 * One phase group in one mode: learns the baseline, then watches every unit's share with a two-sided sequential test.
 *
 * The test is the CUSUM of log-likelihood ratios between "as proven" and "moved by the smallest shift that matters",
 * which is optimal for that shift (Moustakides 1986). Its steps are divided by the inflation of the long-run variance,
 * and the standard error of the baseline is taken off each deviation, so that it can't ripen into an alarm.
 */
import type { PowerBin } from '../alignment/power-bins.ts';
import { DAY_MS, dayOf, HOUR_MS } from '../vocabulary/time.ts';
import { END_THRESHOLD, type Observation, stepLevel, stepUp } from './_llr-cusum.ts';
import { deviationOf, fitBaseline, type ShareBaseline, type ShareBin } from './_share-baseline.ts';
import { balanceEvidence, factorOf } from './_share-causes.ts';
import { movedSetpoint } from './_share-node.ts';
import { type Deviation, onsetOf } from './_share-onset.ts';

/** formats.md, section 2: the first 7 loaded days, in backup the first 120 loaded minutes. */
const BASELINE_DAYS = 7;
const BASELINE_BACKUP_MIN = 120;
const LOADED_DAY_MIN = 60;
/** Bins kept for onset and cause; the unit of what is kept of older ones, and how many: a slow ramp takes weeks to show. */
const RECENT_BINS = 400;
const OLDER_SLOT_MS = 6 * HOUR_MS;
const OLDER_SLOTS = 120;
/** Where a loaded day never comes, so many bins are as much as 7 full days of the shortest. */
const BASELINE_BINS_MAX = 7 * 96;
/** However quiet a site is, shares are moved for an hour or two by what nobody looks at: fans, warm cables, a charger. */
const TEST_SCATTER_MIN_POINTS = 0.8;
/** How many times likelier it must be that the unit's own meter moved. */
const METER_LIKELIER = Math.log(20);

/** What is kept of bins that are no longer recent. */
export interface OlderSlot {
  readonly t: number;
  readonly bins: number;
  /** Of each unit, the sum of deviation ÷ scatter. */
  readonly scores: readonly number[];
}

/** How many bins move the load at which a drift usually shows: those that show it, and those that are level. */
const LOUD_BINS = 16;
const LEVEL_BINS = 400;

/** Sums are kept up to this many thresholds. */
const SUM_CAP = 3;

export interface OpenDrift {
  readonly unit: number;
  /** −1: carries less than proven. */
  readonly sign: 1 | -1;
  readonly start: number;
  readonly form: 'step' | 'ramp';
  readonly detectedAt: number;
  /** The sum that says it is level again, and since when it has been rising. */
  readonly levelSum: number;
  readonly levelSince: number | null;
  /** The least load at which the drift has shown: bins below it say nothing of its end. */
  readonly showsFromW: number;
  /** The load at which it usually shows: a ceiling leaves lower loads level, and they must not end it. */
  readonly levelFromW: number;
}

export interface ShareWatch {
  readonly learning: readonly ShareBin[];
  readonly loadedDays: number;
  readonly loadedMinutes: number;
  /** The day that is being counted, and its loaded minutes. */
  readonly countedDay: number | null;
  readonly countedMinutes: number;
  readonly baseline: ShareBaseline | null;
  readonly up: readonly number[];
  readonly down: readonly number[];
  readonly recent: readonly ShareBin[];
  readonly older: readonly OlderSlot[];
  readonly open: OpenDrift | null;
}

export interface WatchOptions {
  /** The smallest shift that matters, points of share. */
  readonly shiftPoints: number;
  readonly threshold: number;
  /** Mean rating of a unit of the group, W. */
  readonly ratedW: number;
}

export function newWatch(units: number): ShareWatch {
  const zeros = Array.from({ length: units }, () => 0);
  return {
    learning: [],
    loadedDays: 0,
    loadedMinutes: 0,
    countedDay: null,
    countedMinutes: 0,
    baseline: null,
    up: zeros,
    down: zeros,
    recent: [],
    older: [],
    open: null,
  };
}

const tenths = (value: number): number => Math.round(value * 10) / 10 + 0;
const hundredths = (value: number): number => Math.round(value * 100) / 100 + 0;

function shareBin({ t, totalW, unitW, inputW, outputV }: PowerBin): ShareBin {
  return {
    t,
    totalW: tenths(totalW),
    unitW: unitW.map(tenths),
    balance: inputW.map((w, k) =>
      w === null || unitW[k]! <= 0 ? null : Math.round((w / unitW[k]!) * 1000) / 1000 + 0,
    ),
    volts: outputV === null ? null : hundredths(outputV),
  };
}

/** What one bin did to a watch: the drift that ended with it, if one did, beside the new state. */
export interface WatchStep {
  readonly watch: ShareWatch;
  readonly ended: { readonly drift: OpenDrift; readonly watch: ShareWatch; readonly end: number } | null;
}

/**
 * Takes one loaded bin.
 *
 * @param closedAt the reading that showed the bin to be complete
 */
export function watchBin(watch: ShareWatch, power: PowerBin, closedAt: number, options: WatchOptions): WatchStep {
  const bin = shareBin(power);
  const learnt = watch.baseline === null ? learn(watch, bin, power, options.ratedW) : watch;
  if (learnt.baseline === null) return { watch: learnt, ended: null };
  return judge(learnt, learnt.baseline, bin, closedAt, options);
}

function learn(watch: ShareWatch, bin: ShareBin, power: PowerBin, ratedW: number): ShareWatch {
  const day = dayOf(bin.t);
  const isNewDay = watch.countedDay !== null && day !== watch.countedDay;
  const loadedDays = watch.loadedDays + (isNewDay && watch.countedMinutes >= LOADED_DAY_MIN ? 1 : 0);
  const isLearnt =
    power.mode === 'grid'
      ? loadedDays >= BASELINE_DAYS || watch.learning.length >= BASELINE_BINS_MAX
      : watch.loadedMinutes >= BASELINE_BACKUP_MIN;
  if (isLearnt && watch.learning.length >= 2) {
    return { ...watch, loadedDays, learning: [], baseline: fitBaseline(watch.learning, ratedW) };
  }
  return {
    ...watch,
    learning: [...watch.learning, bin],
    loadedDays,
    loadedMinutes: watch.loadedMinutes + power.minutes,
    countedDay: day,
    countedMinutes: (isNewDay ? 0 : watch.countedMinutes) + power.minutes,
  };
}

function observe(baseline: ShareBaseline, unit: number, bin: ShareBin): Observation {
  const { points, scatterPoints, linePoints } = deviationOf(baseline, unit, bin.totalW, bin.unitW[unit]!);
  return {
    deviation: points,
    // What hangs together is in the wider of the two already.
    scatter: Math.max(TEST_SCATTER_MIN_POINTS, scatterPoints * Math.sqrt(baseline.lines[unit]!.inflation)),
    inflation: 1,
    baselineError: linePoints,
  };
}

function judge(
  watch: ShareWatch,
  baseline: ShareBaseline,
  bin: ShareBin,
  closedAt: number,
  options: WatchOptions,
): WatchStep {
  const { shiftPoints, threshold } = options;
  const { up, down } = sumsAfter(watch, baseline, bin, options);
  const shown = { ...bin, statistic: up.map((sum, k) => hundredths((sum >= down[k]! ? sum : -down[k]!) / threshold)) };
  if (watch.open !== null) {
    const recent = withOpen(watch.recent, shown, watch.open.showsFromW);
    return judgeEnd({ ...watch, up, down, recent }, watch.open, baseline, bin, options);
  }
  const next: ShareWatch = { ...watch, up, down, ...remember(watch, baseline, shown) };
  if (Math.max(...up, ...down) <= threshold) return { watch: next, ended: null };
  return { watch: { ...next, open: openDrift(next, baseline, bin.t, closedAt, shiftPoints) }, ended: null };
}

/** The sums of every unit after a bin. They are capped, so that a drift of months does not need months to be shown as over. */
function sumsAfter(
  watch: ShareWatch,
  baseline: ShareBaseline,
  bin: ShareBin,
  { shiftPoints, threshold }: WatchOptions,
) {
  const test = { shift: shiftPoints, threshold };
  const seen = bin.unitW.map((_, unit) => observe(baseline, unit, bin));
  const capped = (sum: number): number => Math.min(SUM_CAP * threshold, sum);
  return {
    up: seen.map((one, unit) => capped(stepUp(watch.up[unit]!, one, test))),
    down: seen.map((one, unit) => capped(stepUp(watch.down[unit]!, { ...one, deviation: -one.deviation }, test))),
  };
}

const scoreOf = (baseline: ShareBaseline, unit: number, bin: ShareBin): number => {
  const { points, scatterPoints } = deviationOf(baseline, unit, bin.totalW, bin.unitW[unit]!);
  return points / (scatterPoints * Math.sqrt(baseline.lines[unit]!.inflation));
};

/** Keeps a bin; the oldest goes into a slot of some hours. */
function remember(watch: ShareWatch, baseline: ShareBaseline, bin: ShareBin): Pick<ShareWatch, 'recent' | 'older'> {
  const recent = [...watch.recent, bin];
  if (recent.length <= RECENT_BINS) return { recent, older: watch.older };
  const gone = recent.shift()!;
  const scores = baseline.lines.map((_, unit) => scoreOf(baseline, unit, gone));
  const last = watch.older.at(-1);
  if (last === undefined || gone.t - last.t >= OLDER_SLOT_MS) {
    const slot = { t: gone.t, bins: 1, scores: scores.map(hundredths) };
    return { recent, older: [...watch.older, slot].slice(-OLDER_SLOTS) };
  }
  const grown = { t: last.t, bins: last.bins + 1, scores: scores.map((s, k) => hundredths(s + last.scores[k]!)) };
  return { recent, older: [...watch.older.slice(0, -1), grown] };
}

/**
 * Keeps a bin while a drift is open: half of what is kept are bins of the loads at which the drift shows, so that
 * weeks of low load can't leave it without figures.
 */
function withOpen(recent: readonly ShareBin[], bin: ShareBin, showsFromW: number): ShareBin[] {
  const grown = [...recent, bin];
  if (grown.length <= RECENT_BINS) return grown;
  const showing = grown.filter(({ totalW }) => totalW >= showsFromW).length;
  const isGone = showing > RECENT_BINS / 2;
  grown.splice(
    grown.findIndex(({ totalW }) => totalW >= showsFromW === isGone),
    1,
  );
  return grown;
}

/** Names the unit whose change explains all deviations, and when it began. */
function openDrift(
  watch: ShareWatch,
  baseline: ShareBaseline,
  t: number,
  closedAt: number,
  shiftPoints: number,
): OpenDrift {
  const { recent, older } = watch;
  const points = (unit: number, bin: ShareBin): number =>
    deviationOf(baseline, unit, bin.totalW, bin.unitW[unit]!).points;
  const isLoud = (bin: ShareBin): boolean => bin.unitW.some((_, unit) => Math.abs(points(unit, bin)) > shiftPoints / 2);
  // The deviations that raised it: the newest bins, back to where they were still level.
  const newest = recent.filter((bin) => bin.t > t - 2 * DAY_MS).slice(-12);
  // All units over the same bins, so that their deviations can be held against each other.
  const raised = newest.some(isLoud) ? newest.filter(isLoud) : newest;
  const means = baseline.lines.map(
    (_, unit) => raised.reduce((sum, bin) => sum + points(unit, bin), 0) / raised.length,
  );
  const unit = changedUnit(means, baseline, raised);
  const sign = means[unit]! < 0 ? -1 : 1;
  const deviations: Deviation[] = [
    ...older.map(({ t, bins, scores }) => ({ t, bins, score: sign * scores[unit]! })),
    ...recent.map((bin) => ({ t: bin.t, score: sign * scoreOf(baseline, unit, bin) })),
  ];
  const { t: start, form } = onsetOf(deviations);
  const loads = raised.filter((bin) => sign * points(unit, bin) > shiftPoints / 2).map((bin) => bin.totalW);
  const showsFromW = loads.length === 0 ? 0 : Math.min(...loads);
  const levelFromW = loads.length === 0 ? 0 : loads.reduce((a, b) => a + b, 0) / loads.length;
  return { unit, sign, start, form, detectedAt: closedAt, levelSum: 0, levelSince: null, showsFromW, levelFromW };
}

/**
 * The unit whose own change explains the deviations of all.
 *
 * If unit j's share moves by s, the others share −s as their proven shares. Two units only mirror each other: then it is
 * the one that carries less, because paths get worse by themselves and never better. Unless the other one now says to
 * give out more for what it takes in: then its meter is what changed. Or unless the voltage that they make together
 * rose: then the other one's setpoint did.
 *
 * @param meanPoints mean deviation of each unit over the bins, points
 */
export function changedUnit(meanPoints: readonly number[], baseline: ShareBaseline, bins: readonly ShareBin[]): number {
  if (meanPoints.length === 2) {
    const falling = meanPoints[0]! < meanPoints[1]! ? 0 : 1;
    const rising = 1 - falling;
    const { real, meter } = balanceEvidence(baseline, rising, bins, factorOf(baseline, rising, bins));
    if (meter - real > METER_LIKELIER) return rising;
    return movedSetpoint(baseline, falling, bins) === 'rising' ? rising : falling;
  }
  const slopes = baseline.lines.map(({ slope }) => slope);
  let best = { unit: 0, misfit: Number.POSITIVE_INFINITY };
  for (let j = 0; j < meanPoints.length; j++) {
    const s = meanPoints[j]!;
    const others = 1 - slopes[j]!;
    const misfit = meanPoints.reduce((sum, p, k) => (k === j ? sum : sum + (p + (s * slopes[k]!) / others) ** 2), 0);
    // Between two equal explanations the falling one is the likelier.
    if (misfit + (s > 0 ? 1e-9 : 0) < best.misfit) best = { unit: j, misfit };
  }
  return best.unit;
}

function judgeEnd(
  watch: ShareWatch,
  open: OpenDrift,
  baseline: ShareBaseline,
  bin: ShareBin,
  { shiftPoints }: WatchOptions,
): WatchStep {
  const seen = observe(baseline, open.unit, bin);
  const isClear = open.sign * seen.deviation > shiftPoints / 2 + 3 * seen.scatter;
  const showsFromW = isClear ? Math.min(open.showsFromW, bin.totalW) : open.showsFromW;
  const isLoud = open.sign * seen.deviation > shiftPoints / 2;
  // Loads that show it pull the mark quickly, level ones slowly: after a repair a season of low load ends it, too.
  const pull = isLoud ? 1 / LOUD_BINS : bin.totalW < showsFromW ? 0 : 1 / LEVEL_BINS;
  const levelFromW =
    open.levelFromW + (isLoud || bin.totalW < open.levelFromW ? pull * (bin.totalW - open.levelFromW) : 0);
  if (bin.totalW < showsFromW) return { watch: { ...watch, open: { ...open, levelFromW } }, ended: null };
  const levelSince = isLoud ? null : (open.levelSince ?? bin.t);
  const saysLevel = isLoud || bin.totalW >= levelFromW;
  const levelSum = saysLevel
    ? stepLevel(open.levelSum, { ...seen, deviation: open.sign * seen.deviation }, shiftPoints)
    : open.levelSum;
  const drift = { ...open, levelSum, levelSince, showsFromW, levelFromW };
  if (levelSum <= END_THRESHOLD) return { watch: { ...watch, open: drift }, ended: null };
  const zeros = watch.up.map(() => 0);
  return {
    watch: { ...watch, up: zeros, down: zeros, recent: [], older: [], open: null },
    ended: { drift, watch, end: levelSince ?? bin.t },
  };
}
