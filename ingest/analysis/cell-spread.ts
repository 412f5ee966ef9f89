/**
 * cell_spread: the cells of a pack stand further apart than they did. Held to the pack's own baseline, on the flat of the
 * curve and in its knees apart, because at the ends of the charge cells part in health. Method in DEVELOPERS.md, "Cells".
 */
import type { DayBlock } from '../alignment/day-block.ts';
import { recordAt, unchangedSince } from '../site/history.ts';
import type { PackRecord, SiteHistory } from '../site/record.ts';
import type { CannotTell, Finding, Severity } from '../vocabulary/finding.ts';
import { DAY_MS, dayOf, epochMs, formatTime, HOUR_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { type CellBaseline, expectedV, fitCells } from './_cell-baseline.ts';
import { type CellHour, type CellPlace, cellHours } from './_cell-hours.ts';
import { END_THRESHOLD, type Observation, stepLevel, stepUp } from './_llr-cusum.ts';
import { firstReadingFrom } from './_pack-group.ts';
import { onsetOf } from './_share-onset.ts';
import type { Analyzer, Answer } from './analyzer.ts';

/** The smallest growth that matters on the flat, V, and in the knees, where cells part in health. Our own choice. */
const GROWTH_V: Readonly<Record<CellPlace, number>> = { flat: 0.02, knee: 0.06 };
/** In the knees a growth must also be this part of what is usual there. */
const KNEE_GROWTH_PART = 0.75;
/** Cells this far apart on the flat are near to ending a discharge early. */
const SOON_V = 0.15;
/** Growth speaks for a finding beyond this part of what matters, and against it below half: between, it stays as it is. */
const BEYOND_PART = 0.75;
const BASELINE_DAYS = 7;
const BASELINE_HOURS: Readonly<Record<CellPlace, number>> = { flat: 20, knee: 12 };
const RECENT_HOURS = 24 * 14;
const NOW_HOURS = 6;
const PLACES: readonly CellPlace[] = ['flat', 'knee'];

interface PlaceState {
  readonly learning: readonly CellHour[];
  readonly baseline: CellBaseline | null;
  readonly sum: number;
  readonly recent: readonly CellHour[];
}

interface OpenSpread {
  readonly place: CellPlace;
  readonly start: number;
  readonly detectedAt: number;
  readonly severity: Severity;
  readonly levelSum: number;
  readonly levelSince: number | null;
}

interface PackCells {
  readonly since: number | null;
  readonly pending: readonly CellHour[];
  readonly places: Readonly<Record<CellPlace, PlaceState>>;
  readonly open: OpenSpread | null;
}

export interface CellSpreadState {
  readonly packs: Readonly<Record<string, PackCells>>;
  readonly ended: readonly Finding[];
}

const NEW_PLACE: PlaceState = { learning: [], baseline: null, sum: 0, recent: [] };

function newPack(since: number | null): PackCells {
  return { since, pending: [], places: { flat: NEW_PLACE, knee: NEW_PLACE }, open: null };
}

function fold(state: CellSpreadState, block: DayBlock, history: SiteHistory): CellSpreadState {
  const t = block.day + DAY_MS - 1;
  const record = recordAt(history, t);
  const times = record.packs.map((pack) => block.packs.get(pack.id)?.tMs);
  const threshold = llrThreshold(
    FALSE_ALARMS_A_SITE_YEAR.cell_spread,
    365 * 24,
    PLACES.length * Math.max(1, record.packs.length),
  );
  const ended = [...state.ended];
  const close = (id: string, pack: PackCells | undefined): void => {
    if (pack?.open == null) return;
    const at = Math.max(record.validFrom ?? block.day, pack.open.detectedAt);
    ended.push(...[spreadFinding(id, pack, pack.open, history.site, at)].flatMap((f) => f ?? []));
  };
  const packs: Record<string, PackCells> = {};
  for (const pack of record.packs) {
    const changed = unchangedSince(history, pack.id, t);
    const since =
      changed === null && record.commissioned === null ? null : Math.max(changed ?? 0, record.commissioned ?? 0);
    const known = state.packs[pack.id];
    const isSame = known !== undefined && known.since === since;
    if (!isSame) close(pack.id, known);
    packs[pack.id] = takeDay(isSame ? known : newPack(since), pack, block, times, threshold, history.site, ended);
  }
  for (const [id, pack] of Object.entries(state.packs)) if (packs[id] === undefined) close(id, pack);
  return { packs, ended };
}

function takeDay(
  before: PackCells,
  pack: PackRecord,
  block: DayBlock,
  times: readonly (Float64Array | undefined)[],
  threshold: number,
  site: string,
  ended: Finding[],
): PackCells {
  const day = block.packs.get(pack.id);
  const hours = cellHours(day, block.day, pack);
  const pending: CellHour[] = [];
  let next = before;
  for (const hour of [...before.pending, ...hours]) {
    const closedAt = firstReadingFrom(times, hour.t + HOUR_MS);
    if (closedAt === null) pending.push(hour);
    else if (hour.t >= (before.since ?? Number.NEGATIVE_INFINITY)) {
      const taken = takeHour(next, hour, closedAt, threshold);
      if (taken.end !== null && next.open !== null)
        ended.push(...[spreadFinding(pack.id, next, next.open, site, taken.end)].flatMap((f) => f ?? []));
      next = taken.pack;
    }
  }
  return { ...next, pending };
}

function takeHour(
  pack: PackCells,
  hour: CellHour,
  closedAt: number,
  threshold: number,
): { readonly pack: PackCells; readonly end: number | null } {
  const place = learn(pack.places[hour.place], hour);
  const { baseline } = place;
  const put = (now: PlaceState): PackCells => ({ ...pack, places: { ...pack.places, [hour.place]: now } });
  if (baseline === null) return { pack: put(place), end: null };
  const recent = [...place.recent, hour].slice(-RECENT_HOURS);
  if (pack.open !== null) return takeOpenHour(put({ ...place, recent }), pack.open, baseline, hour);
  const shift = 2 * BEYOND_PART * growthV(hour.place, baseline);
  const sum = stepUp(place.sum, observe(baseline, hour), { shift, threshold });
  if (sum <= threshold) return { pack: put({ ...place, sum, recent }), end: null };
  const scores = recent.map((h) => {
    const { deviation, scatter, inflation } = observe(baseline, h);
    return { t: h.t, score: deviation / (scatter * Math.sqrt(inflation)) };
  });
  const start = onsetOf(scores).t;
  const newest = recent.filter((h) => h.t >= start).slice(-NOW_HOURS);
  const nowV = newest.reduce((all, h) => all + h.spreadV, 0) / newest.length;
  const open: OpenSpread = {
    place: hour.place,
    start,
    detectedAt: closedAt,
    severity: hour.place === 'flat' && nowV >= SOON_V ? 'soon' : 'plan',
    levelSum: 0,
    levelSince: null,
  };
  return { pack: { ...put({ ...place, sum: 0, recent }), open }, end: null };
}

function learn(place: PlaceState, hour: CellHour): PlaceState {
  if (place.baseline !== null) return place;
  const { learning } = place;
  const isLearnt =
    learning.length >= BASELINE_HOURS[hour.place] && dayOf(hour.t) - dayOf(learning[0]!.t) >= BASELINE_DAYS * DAY_MS;
  return isLearnt
    ? { ...place, learning: [], baseline: fitCells(learning) }
    : { ...place, learning: [...learning, hour] };
}

function growthV(place: CellPlace, baseline: CellBaseline): number {
  return place === 'flat' ? GROWTH_V.flat : Math.max(GROWTH_V.knee, KNEE_GROWTH_PART * baseline.levelV);
}

function observe(baseline: CellBaseline, hour: CellHour): Observation {
  const { scatterV: scatter, inflation, hours } = baseline;
  return {
    deviation: hour.spreadV - expectedV(baseline, hour),
    scatter,
    inflation,
    baselineError: scatter * Math.sqrt(inflation / hours),
  };
}

function takeOpenHour(
  pack: PackCells,
  open: OpenSpread,
  baseline: CellBaseline,
  hour: CellHour,
): { readonly pack: PackCells; readonly end: number | null } {
  if (hour.place !== open.place) return { pack, end: null };
  const levelSum = stepLevel(open.levelSum, observe(baseline, hour), growthV(hour.place, baseline));
  const levelSince = levelSum === 0 ? null : (open.levelSince ?? hour.t);
  if (levelSum <= END_THRESHOLD) return { pack: { ...pack, open: { ...open, levelSum, levelSince } }, end: null };
  const fresh = (place: PlaceState): PlaceState => ({ ...place, sum: 0, recent: [] });
  const places = { flat: fresh(pack.places.flat), knee: fresh(pack.places.knee) };
  return { pack: { ...pack, places, open: null }, end: Math.max(levelSince ?? hour.t, open.start) };
}

function spreadFinding(
  id: string,
  pack: PackCells,
  open: OpenSpread,
  site: string,
  end: number | null,
): Finding | null {
  const { baseline, recent } = pack.places[open.place];
  const since = recent.filter((h) => h.t >= open.start && (end === null || h.t < end)).slice(-NOW_HOURS);
  if (baseline === null || since.length === 0) return null;
  const mean = (values: (h: CellHour) => number): number =>
    Math.round((1e4 * since.reduce((sum, h) => sum + values(h), 0)) / since.length) / 1e4 + 0;
  const growth = growthV(open.place, baseline);
  const usual = mean((h) => expectedV(baseline, h));
  return {
    site,
    kind: 'cell_spread',
    subject: id,
    start: epochMs(open.start),
    detectedAt: epochMs(open.detectedAt),
    end: end === null ? null : epochMs(end),
    severity: open.severity,
    measure: 'highest less lowest cell, V',
    value: mean((h) => h.spreadV),
    baseline: usual,
    limit: Math.round((usual + growth) * 1e4) / 1e4,
    causes: [],
    evidence: {
      place: open.place === 'flat' ? 'between the ends of the charge' : 'near full or empty',
      growth_limit_v: Math.round(growth * 1e4) / 1e4,
      current_c: mean((h) => h.loadC),
      baseline_from: formatTime(baseline.from),
      baseline_to: formatTime(baseline.to),
      scatter_v: Math.round(baseline.scatterV * 1e4) / 1e4,
      by_current_v_per_c: Math.round(baseline.byLoadV * 1e4) / 1e4 + 0,
    },
  };
}

function answer(state: CellSpreadState, history: SiteHistory): Answer {
  const open = Object.entries(state.packs).flatMap(([id, pack]) =>
    pack.open === null ? [] : (spreadFinding(id, pack, pack.open, history.site, null) ?? []),
  );
  const cannotTell: CannotTell[] = Object.entries(state.packs)
    .filter(([, pack]) => PLACES.every((place) => pack.places[place].baseline === null))
    .map(([subject, pack]) => ({
      site: history.site,
      kind: 'cell_spread',
      subject,
      because: `the baseline needs ${BASELINE_HOURS.flat} hours of cell voltages over ${BASELINE_DAYS} days, ${pack.places.flat.learning.length} are in`,
    }));
  return { findings: [...state.ended, ...open], cannotTell };
}

export const cellSpread: Analyzer<CellSpreadState> = {
  name: 'cell_spread',
  version: 1,
  begin: () => ({ packs: {}, ended: [] }),
  fold,
  answer,
};
