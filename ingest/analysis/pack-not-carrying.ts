/**
 * pack_not_carrying and pack_capacity_loss: a pack's part of the bank's current has fallen. Packs share by resistance and
 * charge, so its part of the current over its part of the capacity is held to the site's own baseline. A pack that lost
 * capacity carries less, too, but its charge swings more for the same ampere-hours. Method in DEVELOPERS.md, "Current of the packs".
 */
import type { DayBlock } from '../alignment/day-block.ts';
import { type PackHour, packHours } from '../alignment/pack-hours.ts';
import { longRunVariance } from '../math/long-run-variance.ts';
import { recordAt } from '../site/history.ts';
import type { PackRecord, SiteHistory } from '../site/record.ts';
import type { CannotTell, Finding } from '../vocabulary/finding.ts';
import { DAY_MS, dayOf, epochMs, formatTime, HOUR_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { CURRENT_PART_FALL, CURRENT_PART_MEASURE } from './_current-part.ts';
import { END_THRESHOLD, type Observation, stepLevel, stepUp } from './_llr-cusum.ts';
import { bankOn, firstReadingFrom, goOnOrAnew } from './_pack-group.ts';
import { onsetOf } from './_share-onset.ts';
import type { Analyzer, Answer } from './analyzer.ts';

/** Below this part of capacity an hour, what flows is mostly packs evening out among themselves. */
const CURRENT_MIN_C = 0.025;
/** Near full a pack that is full stops while the others finish; near empty likewise. */
const CHARGE_BAND_PCT: readonly [number, number] = [12, 96];
const BASELINE_DAYS = 7;
const BASELINE_HOURS = 20;
const SCATTER_MIN = 0.1;
const INFLATION_MIN = 2;
const INFLATION_MAX = 12;
const RECENT_HOURS = 240;
const NOW_HOURS = 12;
/** A swing this many times the proven one is lost capacity. Our own choice: a gauge's own error is a few parts in a hundred. */
const CAPACITY_SWING = 1.12;
/** Points of charge, squared and summed, below which a swing can't be told. */
const SWING_MIN_POINTS2 = 60;

/** An hour with enough current: each pack's part of the current over its part of the capacity. */
interface CurrentHour {
  readonly t: number;
  readonly parts: readonly number[];
  /** Change of charge in the hour as reported, and as the counted ampere-hours explain it, points; null where not counted. */
  readonly swings: readonly (readonly [reported: number, counted: number] | null)[];
}

interface PackBaseline {
  readonly mean: number;
  readonly scatter: number;
  readonly inflation: number;
  /** Reported over counted change of charge; null where too little was cycled. */
  readonly swing: number | null;
}

interface OpenFall {
  /** Decided when it was raised, and kept: what is printed once under a kind stays under it. */
  readonly kind: 'pack_not_carrying' | 'pack_capacity_loss';
  readonly pack: number;
  readonly start: number;
  readonly detectedAt: number;
  readonly levelSum: number;
  readonly levelSince: number | null;
}

export interface PackNotCarryingState {
  readonly ids: readonly string[];
  readonly since: number | null;
  readonly pending: readonly CurrentHour[];
  readonly learning: readonly CurrentHour[];
  readonly baseline: {
    readonly from: number;
    readonly to: number;
    readonly hours: number;
    readonly packs: readonly PackBaseline[];
  } | null;
  readonly sums: readonly number[];
  readonly recent: readonly CurrentHour[];
  readonly open: OpenFall | null;
  readonly ended: readonly Finding[];
}

function fresh(ids: readonly string[], since: number | null, ended: readonly Finding[]): PackNotCarryingState {
  return {
    ids,
    since,
    pending: [],
    learning: [],
    baseline: null,
    sums: ids.map(() => 0),
    recent: [],
    open: null,
    ended,
  };
}

function fold(state: PackNotCarryingState, block: DayBlock, history: SiteHistory): PackNotCarryingState {
  const bank = bankOn(block, history);
  const { record, packs, days } = bank;
  let next = goOnOrAnew(state, bank, block.day, fresh, (end) =>
    state.open === null ? null : fallFinding(state, state.open, history, end),
  );
  if (packs.length < 2) return next;
  const { hours } = packHours(
    days,
    packs.map((p) => p.capacity_ah),
    packs.map(() => null),
    { day: block.day, sampleIntervalS: record.sample_interval_s },
  );
  const pending: CurrentHour[] = [];
  for (const hour of [...next.pending, ...hours.flatMap((h, i) => currentHour(h, hours[i - 1], packs) ?? [])]) {
    const closedAt = firstReadingFrom(
      days.map((d) => d?.tMs),
      hour.t + HOUR_MS,
    );
    if (closedAt === null) pending.push(hour);
    else if (hour.t >= (next.since ?? Number.NEGATIVE_INFINITY)) next = takeHour(next, hour, closedAt, history);
  }
  return { ...next, pending };
}

/** null where the hour says nothing: a pack silent, too little current, or near full or empty. */
function currentHour(hour: PackHour, before: PackHour | undefined, packs: readonly PackRecord[]): CurrentHour | null {
  const { t, socPct, currentA } = hour;
  const totalAh = packs.reduce((sum, p) => sum + p.capacity_ah, 0);
  let totalA = 0;
  for (const [k, amps] of currentA.entries()) {
    const soc = socPct[k];
    if (amps === null || soc === null || soc === undefined) return null;
    totalA += amps;
  }
  const bankPct = socPct.reduce((sum: number, soc, k) => sum + soc! * packs[k]!.capacity_ah, 0) / totalAh;
  if (Math.abs(totalA) < CURRENT_MIN_C * totalAh || bankPct < CHARGE_BAND_PCT[0] || bankPct > CHARGE_BAND_PCT[1])
    return null;
  const parts = currentA.map((amps, k) => thousandths(amps! / totalA / (packs[k]!.capacity_ah / totalAh)));
  return { t, parts, swings: packs.map((pack, k) => swingOf(hour, before, k, pack.capacity_ah)) };
}

const thousandths = (value: number): number => Math.round(value * 1000) / 1000 + 0;

function swingOf(
  hour: PackHour,
  before: PackHour | undefined,
  pack: number,
  capacityAh: number,
): CurrentHour['swings'][number] {
  if (before === undefined || hour.t - before.t !== HOUR_MS) return null;
  const [ahNow, ahThen] = [hour.netAh[pack], before.netAh[pack]];
  const [resNow, resThen] = [hour.residualPoints[pack], before.residualPoints[pack]];
  if (ahNow == null || ahThen == null || resNow == null || resThen == null) return null;
  const counted = (-100 * (ahNow - ahThen)) / capacityAh;
  return [thousandths(counted + resNow - resThen), thousandths(counted)];
}

/** Slope of reported over counted change of charge, through the origin; null where too little was cycled. */
function swingRatio(hours: readonly CurrentHour[], pack: number): number | null {
  let xx = 0;
  let xy = 0;
  for (const { swings } of hours) {
    const swing = swings[pack];
    if (swing == null) continue;
    xx += swing[1] ** 2;
    xy += swing[0] * swing[1];
  }
  return xx < SWING_MIN_POINTS2 ? null : xy / xx;
}

function takeHour(
  state: PackNotCarryingState,
  hour: CurrentHour,
  closedAt: number,
  history: SiteHistory,
): PackNotCarryingState {
  if (state.baseline === null) {
    const { learning } = state;
    const isLearnt =
      learning.length >= BASELINE_HOURS && dayOf(hour.t) - dayOf(learning[0]!.t) >= BASELINE_DAYS * DAY_MS;
    if (!isLearnt) return { ...state, learning: [...learning, hour] };
    return takeHour({ ...state, learning: [], baseline: fitBaseline(state.learning) }, hour, closedAt, history);
  }
  const recent = [...state.recent, hour].slice(-RECENT_HOURS);
  if (state.open !== null) return takeOpenHour({ ...state, recent }, state.open, hour, closedAt, history);
  const threshold = llrThreshold(FALSE_ALARMS_A_SITE_YEAR.pack_not_carrying / 2, 365 * 24, state.ids.length);
  const sums = state.sums.map((sum, pack) => {
    const own = state.baseline!.packs[pack]!;
    return own.mean <= 0
      ? 0
      : stepUp(sum, observe(state, pack, hour), { shift: CURRENT_PART_FALL * own.mean, threshold });
  });
  const next = { ...state, sums, recent };
  const loudest = Math.max(...sums);
  if (loudest <= threshold) return next;
  // The pack whose own part has fallen furthest: the others only take over what it leaves.
  const pack = sums.reduce(
    (best, sum, k) => (sum > threshold && ratio(state, k, hour) < ratio(state, best, hour) ? k : best),
    sums.indexOf(loudest),
  );
  const deviations = recent.map((h) => {
    const { deviation, scatter, inflation } = observe(state, pack, h);
    return { t: h.t, score: deviation / (scatter * Math.sqrt(inflation)) };
  });
  const start = onsetOf(deviations).t;
  const swing = swingRatio(
    recent.filter((h) => h.t >= start),
    pack,
  );
  const isCapacity = swing !== null && swing >= CAPACITY_SWING * (state.baseline.packs[pack]!.swing ?? 1);
  const kind = isCapacity ? 'pack_capacity_loss' : 'pack_not_carrying';
  return { ...next, open: { kind, pack, start, detectedAt: closedAt, levelSum: 0, levelSince: null } };
}

const ratio = (state: PackNotCarryingState, pack: number, hour: CurrentHour): number =>
  hour.parts[pack]! / state.baseline!.packs[pack]!.mean;

function fitBaseline(hours: readonly CurrentHour[]): NonNullable<PackNotCarryingState['baseline']> {
  const packs = hours[0]!.parts.map((_, pack) => {
    const parts = hours.map((h) => h.parts[pack]!);
    const mean = parts.reduce((a, b) => a + b, 0) / parts.length;
    const variance = parts.reduce((sum, p) => sum + (p - mean) ** 2, 0) / Math.max(1, parts.length - 1);
    const longRun = longRunVariance(parts)?.variance ?? variance;
    const inflation =
      variance > 0 ? Math.min(INFLATION_MAX, Math.max(INFLATION_MIN, longRun / variance)) : INFLATION_MIN;
    return { mean, scatter: Math.max(SCATTER_MIN, Math.sqrt(variance)), inflation, swing: swingRatio(hours, pack) };
  });
  return { from: hours[0]!.t, to: hours.at(-1)!.t, hours: hours.length, packs };
}

/** The fall of a pack's part below its baseline. */
function observe(state: PackNotCarryingState, pack: number, hour: CurrentHour): Observation {
  const { mean, scatter, inflation } = state.baseline!.packs[pack]!;
  return {
    deviation: mean - hour.parts[pack]!,
    scatter,
    inflation,
    baselineError: scatter * Math.sqrt(inflation / state.baseline!.hours),
  };
}

function takeOpenHour(
  state: PackNotCarryingState,
  open: OpenFall,
  hour: CurrentHour,
  closedAt: number,
  history: SiteHistory,
): PackNotCarryingState {
  const shift = CURRENT_PART_FALL * state.baseline!.packs[open.pack]!.mean;
  const levelSum = stepLevel(open.levelSum, observe(state, open.pack, hour), shift);
  const levelSince = levelSum === 0 ? null : (open.levelSince ?? hour.t);
  const moved = { ...open, levelSum, levelSince };
  if (levelSum <= END_THRESHOLD) return { ...state, open: moved };
  const finding = fallFinding(state, moved, history, levelSince ?? hour.t, closedAt);
  return {
    ...state,
    sums: state.ids.map(() => 0),
    recent: [],
    open: null,
    ended: finding === null ? state.ended : [...state.ended, finding],
  };
}

function fallFinding(
  state: PackNotCarryingState,
  open: OpenFall,
  history: SiteHistory,
  end: number | null,
  endToldAt = end,
): Finding | null {
  const { baseline } = state;
  const all = state.recent.filter((h) => h.t >= open.start && (end === null || h.t < end));
  const since = all.slice(-NOW_HOURS);
  if (baseline === null || since.length === 0) return null;
  const own = baseline.packs[open.pack]!;
  const partOf = (pack: number): number =>
    thousandths(since.reduce((sum, h) => sum + h.parts[pack]!, 0) / since.length);
  const swing = swingRatio(all, open.pack);
  return {
    site: history.site,
    kind: open.kind,
    subject: state.ids[open.pack]!,
    start: epochMs(open.start),
    detectedAt: epochMs(open.detectedAt),
    end: end === null ? null : epochMs(end),
    ...(endToldAt === null ? {} : { endToldAt: epochMs(endToldAt) }),
    severity: open.kind === 'pack_capacity_loss' ? 'plan' : 'soon',
    ...(open.kind === 'pack_capacity_loss'
      ? capacityFigures(state, open, history, swing)
      : currentFigures(own, partOf(open.pack))),
    causes: [],
    evidence: {
      hours_now: since.length,
      baseline_from: formatTime(baseline.from),
      baseline_to: formatTime(baseline.to),
      baseline_hours: baseline.hours,
      scatter: thousandths(own.scatter),
      current_part_proven: thousandths(own.mean),
      current_parts_now: state.ids.map((_, pack) => partOf(pack)),
      swing_reported_over_counted: swing === null ? null : thousandths(swing),
      swing_proven: own.swing === null ? null : thousandths(own.swing),
    },
  };
}

function currentFigures(own: PackBaseline, partNow: number) {
  return {
    measure: CURRENT_PART_MEASURE,
    value: partNow,
    baseline: thousandths(own.mean),
    limit: thousandths(CURRENT_PART_FALL * own.mean),
  };
}

/** Capacity is what was counted over what the gauge says it was of the whole. */
function capacityFigures(state: PackNotCarryingState, open: OpenFall, history: SiteHistory, swing: number | null) {
  const { packs } = recordAt(history, open.detectedAt);
  const capacityAh = packs.find((p) => p.id === state.ids[open.pack])?.capacity_ah ?? null;
  const proven = state.baseline!.packs[open.pack]!.swing ?? 1;
  const tenths = (ah: number): number => Math.round(ah * 10) / 10;
  return {
    measure: 'capacity, Ah',
    value: swing === null || capacityAh === null ? null : tenths(capacityAh / swing),
    baseline: capacityAh === null ? null : tenths(capacityAh / proven),
    limit: capacityAh === null ? null : tenths(capacityAh * (1 - 1 / CAPACITY_SWING)),
  };
}

function answer(state: PackNotCarryingState, history: SiteHistory): Answer {
  const open = state.open === null ? null : fallFinding(state, state.open, history, null);
  const cannotTell: CannotTell[] = [];
  if (state.ids.length >= 2 && state.baseline === null) {
    const because = `the baseline needs ${BASELINE_HOURS} hours of current over 7 days, ${state.learning.length} are in`;
    cannotTell.push({ site: history.site, kind: 'pack_not_carrying', subject: state.ids.join(', '), because });
  }
  return { findings: open === null ? state.ended : [...state.ended, open], cannotTell };
}

export const packNotCarrying: Analyzer<PackNotCarryingState> = {
  name: 'pack_not_carrying',
  version: 3,
  begin: () => fresh([], null, []),
  fold,
  answer,
};
