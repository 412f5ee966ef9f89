/**
 * soc_divergence: packs on one bank have parted from how they stood. Judged against the site's own baseline and current,
 * because a few milliohms park LFP packs several points apart for good. Method in DEVELOPERS.md, "Charge of the packs".
 */
import type { DayBlock } from '../alignment/day-block.ts';
import { type PackCount, type PackHour, packHours } from '../alignment/pack-hours.ts';
import { recordAt } from '../site/history.ts';
import type { PackRecord, SiteHistory } from '../site/record.ts';
import type { CannotTell, Finding } from '../vocabulary/finding.ts';
import { dayOf, epochMs, formatTime, HOUR_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { CURRENT_PART_FALL, CURRENT_PART_MEASURE } from './_current-part.ts';
import { END_THRESHOLD, type Observation, stepLevel, stepUp } from './_llr-cusum.ts';
import { bankOn, firstReadingFrom, goOnOrAnew } from './_pack-group.ts';
import { onsetOf } from './_share-onset.ts';
import { apartFromBaseline, fitSocBaseline, type SocBaseline, type SocHour } from './_soc-baseline.ts';
import { anchorsOf, type PackAnchor, type PackFigures, packFigures, socVerdict } from './_soc-causes.ts';
import { chargeFigures } from './_soc-figures.ts';
import type { Analyzer, Answer } from './analyzer.ts';

/** The smallest parting that matters, points. Our own choice: within it, a full charge closes the gap by itself. */
const SHIFT_POINTS = 5;
const BASELINE_DAYS = 7;
/** A day with fewer hours of all packs is no day of the baseline. */
const DAY_HOURS_MIN = 12;
/** The time constant with which packs part and meet (check: LFP plateau, a few mΩ). */
const SLOW_MS = 2 * HOUR_MS;
const RECENT_HOURS = 24 * 21;
/** Where whole days never come, so many hours are as much. */
const BASELINE_HOURS_MAX = 24 * BASELINE_DAYS;
/** Packs that part swing about each other with the day: level is level through a whole cycle and some more. */
const LEVEL_MS = 36 * HOUR_MS;
/** A cause with a kind of its own is named by it from this weight on. */
const SURE = 0.8;

interface OpenParting {
  readonly start: number;
  readonly detectedAt: number;
  readonly pack: number;
  readonly sign: 1 | -1;
  /** Decided when it was raised, and kept: what is printed once under a kind stays under it. */
  readonly kind: 'soc_divergence' | 'pack_not_carrying';
  readonly levelSum: number;
  readonly levelSince: number | null;
  /** Where each pack's counts stood at the onset: hours that long ago are not kept. */
  readonly from: readonly PackAnchor[];
}

export interface SocState {
  readonly ids: readonly string[];
  readonly since: number | null;
  readonly counts: readonly (PackCount | null)[];
  readonly slowC: number;
  readonly slowT: number | null;
  readonly pending: readonly SocHour[];
  readonly learning: readonly SocHour[];
  readonly baseline: SocBaseline | null;
  readonly baselineFigures: readonly PackFigures[];
  readonly up: readonly number[];
  readonly down: readonly number[];
  readonly recent: readonly SocHour[];
  readonly open: OpenParting | null;
  readonly ended: readonly Finding[];
}

function fresh(ids: readonly string[], since: number | null, ended: readonly Finding[]): SocState {
  const zeros = ids.map(() => 0);
  return {
    ids,
    since,
    counts: ids.map(() => null),
    slowC: 0,
    slowT: null,
    pending: [],
    learning: [],
    baseline: null,
    baselineFigures: [],
    up: zeros,
    down: zeros,
    recent: [],
    open: null,
    ended,
  };
}

function fold(state: SocState, block: DayBlock, history: SiteHistory): SocState {
  const bank = bankOn(block, history);
  const { record, packs, ids, days } = bank;
  let next = goOnOrAnew(state, bank, block.day, fresh, (end) =>
    state.open === null ? null : partingFinding(state, state.open, history, end),
  );
  if (packs.length < 2) return next;
  const { hours, counts } = packHours(
    days,
    packs.map((p) => p.capacity_ah),
    next.counts,
    { day: block.day, sampleIntervalS: record.sample_interval_s },
  );
  next = { ...next, counts };
  const threshold = llrThreshold(FALSE_ALARMS_A_SITE_YEAR.soc_divergence, 365 * 24, 2 * ids.length);
  const slowed = slowHours(next, hours, packs);
  next = { ...next, slowC: slowed.slowC, slowT: slowed.slowT };
  const pending: SocHour[] = [];
  for (const hour of [...next.pending, ...slowed.hours]) {
    const closedAt = firstReadingFrom(
      days.map((d) => d?.tMs),
      hour.t + HOUR_MS,
    );
    if (closedAt === null) pending.push(hour);
    else if (hour.t >= (next.since ?? Number.NEGATIVE_INFINITY))
      next = takeHour(next, hour, closedAt, threshold, packs, history);
  }
  return { ...next, pending };
}

const hundredths = (value: number | null): number | null => (value === null ? null : Math.round(value * 100) / 100 + 0);

/** Hours of which every pack spoke, with the bank's charge and slowed current. */
function slowHours(
  state: SocState,
  hours: readonly PackHour[],
  packs: readonly PackRecord[],
): { hours: SocHour[]; slowC: number; slowT: number | null } {
  const totalAh = packs.reduce((sum, p) => sum + p.capacity_ah, 0);
  let { slowC, slowT } = state;
  const whole: SocHour[] = [];
  for (const { t, socPct, currentA, residualPoints, jumpPoints, netAh } of hours) {
    const amps = currentA.some((a) => a === null) ? null : currentA.reduce((sum: number, a) => sum + a!, 0);
    const steps = slowT === null ? Number.POSITIVE_INFINITY : t - slowT;
    slowC += (1 - Math.exp(-steps / SLOW_MS)) * ((amps ?? 0) / totalAh - slowC);
    slowT = t;
    if (socPct.some((s) => s === null)) continue;
    const soc = socPct as readonly number[];
    const bankPct = soc.reduce((sum, s, k) => sum + s * packs[k]!.capacity_ah, 0) / totalAh;
    whole.push({
      t,
      apart: soc.map((s) => hundredths(s - bankPct)!),
      bankPct: hundredths(bankPct)!,
      slowC: Math.round(slowC * 10_000) / 10_000 + 0,
      residualPoints: residualPoints.map(hundredths),
      jumpPoints: jumpPoints.map(hundredths),
      netAh: netAh.map(hundredths),
      currentA: currentA.map(hundredths),
      socPct: soc.map((s) => hundredths(s)!),
    });
  }
  return { hours: whole, slowC, slowT };
}

function takeHour(
  state: SocState,
  hour: SocHour,
  closedAt: number,
  threshold: number,
  packs: readonly PackRecord[],
  history: SiteHistory,
): SocState {
  if (state.baseline === null) {
    const byDay = new Map<number, number>();
    for (const { t } of state.learning) byDay.set(dayOf(t), (byDay.get(dayOf(t)) ?? 0) + 1);
    const days = [...byDay].filter(([day, hours]) => hours >= DAY_HOURS_MIN && day !== dayOf(hour.t)).length;
    if (days < BASELINE_DAYS && state.learning.length < BASELINE_HOURS_MAX + 24)
      return { ...state, learning: [...state.learning, hour] };
    const capacities = packs.map((p) => p.capacity_ah);
    return takeHour(
      {
        ...state,
        learning: [],
        baseline: fitSocBaseline(state.learning),
        baselineFigures: packFigures(state.learning, capacities),
      },
      hour,
      closedAt,
      threshold,
      packs,
      history,
    );
  }
  const recent = [...state.recent, hour].slice(-RECENT_HOURS);
  if (state.open !== null) {
    const within = { ...state, recent };
    return takeOpenHour(within, state.open, state.baseline, hour, closedAt, history);
  }
  const up: number[] = [];
  const down: number[] = [];
  const test = { shift: SHIFT_POINTS, threshold };
  for (let pack = 0; pack < state.ids.length; pack++) {
    const seen = observe(state.baseline, pack, hour);
    up.push(stepUp(state.up[pack]!, seen, test));
    down.push(stepUp(state.down[pack]!, { ...seen, deviation: -seen.deviation }, test));
  }
  const next = { ...state, up, down, recent };
  const loudest = Math.max(...up, ...down);
  if (loudest <= threshold) return next;
  const isUp = up.includes(loudest);
  const pack = (isUp ? up : down).indexOf(loudest);
  const sign = isUp ? 1 : -1;
  const deviations = recent.map((h) => {
    const { deviation, scatter, inflation } = observe(next.baseline!, pack, h);
    return { t: h.t, score: (sign * deviation) / (scatter * Math.sqrt(inflation)) };
  });
  const start = onsetOf(deviations).t;
  const open: OpenParting = {
    start,
    detectedAt: closedAt,
    pack,
    sign,
    kind: 'soc_divergence',
    levelSum: 0,
    levelSince: null,
    // An hour's counts stand at its end. A step late in the hour before the onset is already in that hour's.
    from: anchorsOf(recent.findLast((h) => h.t < start - HOUR_MS) ?? recent[0]!),
  };
  const { odd, causes } = verdictOf(
    next,
    next.baseline!,
    recent.filter((h) => h.t >= start),
    packs.map((p) => p.capacity_ah),
    open.from,
  ).verdict;
  const isCarrying = odd === null || causes[0]?.cause !== 'pack_not_carrying' || causes[0].weight < SURE;
  return { ...next, open: isCarrying ? open : { ...open, kind: 'pack_not_carrying' } };
}

function verdictOf(
  state: SocState,
  baseline: SocBaseline,
  since: readonly SocHour[],
  capacities: readonly number[],
  from: readonly PackAnchor[],
) {
  const newest = since.slice(-6);
  const mean = (of: (h: SocHour) => number): number => newest.reduce((sum, h) => sum + of(h), 0) / newest.length;
  const shifts = state.ids.map((_, pack) => mean((h) => apartFromBaseline(baseline, pack, h)));
  const figures = packFigures(since, capacities, from);
  return { mean, shifts, figures, verdict: socVerdict(shifts, figures, state.baselineFigures) };
}

function observe(baseline: SocBaseline, pack: number, hour: SocHour): Observation {
  const { scatter, inflation } = baseline.packs[pack]!;
  return {
    deviation: apartFromBaseline(baseline, pack, hour),
    scatter,
    inflation,
    baselineError: scatter * Math.sqrt(inflation / baseline.hours),
  };
}

function takeOpenHour(
  state: SocState,
  open: OpenParting,
  baseline: SocBaseline,
  hour: SocHour,
  closedAt: number,
  history: SiteHistory,
): SocState {
  const seen = observe(baseline, open.pack, hour);
  // Packs that part swing about each other: level is near the baseline, on either side of it.
  const levelSum = stepLevel(open.levelSum, { ...seen, deviation: Math.abs(seen.deviation) }, SHIFT_POINTS);
  const levelSince = Math.abs(seen.deviation) > SHIFT_POINTS / 2 ? null : (open.levelSince ?? hour.t);
  const moved = { ...open, levelSum, levelSince };
  if (levelSum <= END_THRESHOLD || levelSince === null || hour.t - levelSince < LEVEL_MS)
    return { ...state, open: moved };
  const finding = partingFinding(state, moved, history, levelSince ?? hour.t, closedAt);
  const zeros = state.ids.map(() => 0);
  return {
    ...state,
    up: zeros,
    down: zeros,
    recent: [],
    open: null,
    ended: finding === null ? state.ended : [...state.ended, finding],
  };
}

/** What is said of a parting: by cause under its own kind. */
function partingFinding(
  state: SocState,
  open: OpenParting,
  history: SiteHistory,
  end: number | null,
  endToldAt = end,
): Finding | null {
  const { baseline } = state;
  const lasting = state.recent.filter((h) => h.t >= open.start && (end === null || h.t < end));
  const since = lasting.length > 0 ? lasting : state.recent;
  if (baseline === null || since.length === 0) return null;
  const record = recordAt(history, open.detectedAt);
  const capacities = state.ids.map((id) => record.packs.find((p) => p.id === id)?.capacity_ah ?? 1);
  const { mean, shifts, figures, verdict } = verdictOf(state, baseline, since, capacities, open.from);
  const { odd, causes } = verdict;
  const { kind } = open;
  const shown = odd ?? open.pack;
  const apart = mean((h) => h.apart[shown]!);
  const round = (value: number | null, decimals = 2): number | null =>
    value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals + 0;
  return {
    site: history.site,
    kind,
    subject: odd === null ? null : state.ids[odd]!,
    ...(odd === null ? { candidates: state.ids } : {}),
    start: epochMs(open.start),
    detectedAt: epochMs(open.detectedAt),
    end: end === null ? null : epochMs(end),
    ...(endToldAt === null ? {} : { endToldAt: epochMs(endToldAt) }),
    severity: 'soon',
    ...(kind === 'pack_not_carrying'
      ? currentFigures(figures[shown]?.currentShare ?? null, state.baselineFigures[shown]?.currentShare ?? null)
      : {
          measure: "state of charge less the bank's",
          value: round(apart),
          baseline: round(apart - shifts[shown]!),
          limit: SHIFT_POINTS,
        }),
    causes: kind === 'soc_divergence' ? causes : [],
    evidence: {
      pack: state.ids[shown]!,
      baseline_from: formatTime(baseline.from),
      baseline_to: formatTime(baseline.to),
      scatter_points: round(baseline.packs[shown]!.scatter),
      soc_pct: state.ids.map(
        (_, pack) =>
          round(
            mean((h) => h.socPct[pack]!),
            1,
          )!,
      ),
      unexplained_points: figures.map((f) => round(f.unexplainedPoints, 1) ?? 'unknown'),
      current_share_of_capacity_share: figures.map((f) => round(f.currentShare) ?? 'unknown'),
      swing_reported_over_counted: figures.map((f) => round(f.swing) ?? 'unknown'),
    },
  };
}

/** A kind has one measure, whoever raises it: of a pack that does not carry it is the current. */
function currentFigures(now: number | null, proven: number | null) {
  const round = (value: number | null): number | null => (value === null ? null : Math.round(value * 1000) / 1000 + 0);
  return {
    measure: CURRENT_PART_MEASURE,
    value: round(now),
    baseline: round(proven),
    limit: round(proven === null ? null : CURRENT_PART_FALL * proven),
  };
}

function answer(state: SocState, history: SiteHistory): Answer {
  const open = state.open === null ? null : partingFinding(state, state.open, history, null);
  const cannotTell: CannotTell[] = [];
  if (state.ids.length >= 2 && state.baseline === null) {
    const days = new Set(state.learning.map(({ t }) => dayOf(t))).size;
    cannotTell.push({
      site: history.site,
      kind: 'soc_divergence',
      subject: state.ids.join(', '),
      because: `the baseline needs 7 days on which every pack reports its charge, ${days} are in`,
    });
  }
  const because = cannotTell[0]?.because ?? null;
  return {
    findings: open === null ? state.ended : [...state.ended, open],
    cannotTell,
    figures: chargeFigures({ ...state, limit: SHIFT_POINTS }, history.site, because),
  };
}

export const socDivergence: Analyzer<SocState> = {
  name: 'soc_divergence',
  version: 3,
  begin: () => fresh([], null, []),
  fold,
  answer,
};
