/**
 * Units that feed each other: one takes power from the common output while another gives more than the load.
 * Only sources in droop can do it, so it is judged on the site's own, and on the grid where the units form
 * the output there too; behind closed relays, and equalised over a link, setpoints play no part. Unequal
 * powers of one sign are healthy.
 */
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import { walkInstants } from '../alignment/site-ticks.ts';
import { phaseGroups, recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord, UnitRecord } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, readingsAYear, readingsToHold } from './_budget.ts';
import { freshMs } from './_patience.ts';
import { placeAt, powerAt, type UnitColumns, unitColumns } from './_unit-now.ts';
import type { Analyzer } from './analyzer.ts';

/** What calibration alone may send round, as a share of a unit's rating, and at least so many watts. Our own choice. */
const ROUND_SHARE = 0.03;
const ROUND_W = 100;
/** On the grid, where the record does not say that the units form the output, twice as much. */
const UNSAID_FACTOR = 2;
/** A load step reaches every unit well within this. */
const HOLD_MS = 5 * MINUTE_MS;
/** Chance that a reading shows opposite signs by mistake: a step between two samples at light load. */
const BY_MISTAKE = 0.1;
/** From this part of the power that went round, at light load, "no longer". */
const CONTRARY_PART = 0.5;

type Mode = 'grid' | 'backup';

interface Now {
  readonly w: number;
  readonly t: number;
  readonly place: Mode | null;
}

/** A stretch of readings that all show, or all deny, power going round in one group. */
interface Stretch {
  readonly mode: Mode;
  readonly giver: string;
  readonly taker: string;
  readonly since: number;
  readonly readings: number;
  readonly sumW: number;
  readonly takerSumW: number;
  readonly giverSumW: number;
}

interface Circulation {
  readonly phase: string;
  readonly mode: Mode;
  readonly giver: string;
  readonly taker: string;
  readonly start: number;
  readonly detectedAt: number;
  readonly end: number | null;
  readonly w: number;
  readonly limitW: number;
  readonly takerW: number;
  readonly giverW: number;
  readonly readings: number;
}

/** Light load without any power going round while one stands: since when, over how many readings. */
interface Contrary {
  readonly since: number;
  readonly readings: number;
}

export interface CirculatingPowerState {
  readonly now: Readonly<Record<string, Now>>;
  readonly stretch: Readonly<Record<string, Stretch>>;
  readonly contrary: Readonly<Record<string, Contrary>>;
  readonly open: Readonly<Record<string, Circulation>>;
  readonly done: readonly Circulation[];
}

interface Work {
  readonly now: Record<string, Now>;
  readonly stretch: Record<string, Stretch>;
  readonly contrary: Record<string, Contrary>;
  readonly open: Record<string, Circulation>;
  done: Circulation[];
  readonly record: SiteRecord;
}

/** Power that may go round in a mode without a finding, W; null where the law rules it out. */
function limitOf(group: readonly UnitRecord[], mode: Mode, record: SiteRecord): number | null {
  const law = record.sharing[mode];
  if (law === 'wired' || law === 'link') return null;
  const ratedW = Math.min(...group.map((unit) => unit.rated_power_w));
  const limitW = Math.max(ROUND_W, ROUND_SHARE * ratedW);
  return mode === 'grid' && law === null ? UNSAID_FACTOR * limitW : limitW;
}

interface Look {
  readonly mode: Mode;
  readonly giver: string;
  readonly taker: string;
  readonly giverW: number;
  readonly takerW: number;
  readonly totalW: number;
}

/** The group at t, if all of it is current and in one mode. */
function lookAt(work: Work, group: readonly UnitRecord[], t: number): Look | null {
  let giver: { id: string; w: number } | null = null;
  let taker: { id: string; w: number } | null = null;
  let totalW = 0;
  let mode: Mode | null = null;
  for (const { id } of group) {
    const now = work.now[id];
    if (now === undefined || now.place === null || t - now.t > freshMs(work.record)) return null;
    if (mode !== null && now.place !== mode) return null;
    mode = now.place;
    totalW += now.w;
    if (giver === null || now.w > giver.w) giver = { id, w: now.w };
    if (taker === null || now.w < taker.w) taker = { id, w: now.w };
  }
  if (giver === null || taker === null || mode === null) return null;
  return { mode, giver: giver.id, taker: taker.id, giverW: giver.w, takerW: taker.w, totalW };
}

/** Readings of the whole group that a stretch has to have. */
function readingsNeeded(record: SiteRecord): number {
  const trials = readingsAYear(record.sample_interval_s) * record.units.length;
  return readingsToHold(FALSE_ALARMS_A_SITE_YEAR.circulating_power, trials, BY_MISTAKE);
}

function extend(before: Stretch | undefined, look: Look, t: number): Stretch {
  const goesOn =
    before !== undefined && before.mode === look.mode && before.giver === look.giver && before.taker === look.taker;
  const w = Math.min(look.giverW, -look.takerW);
  const { mode, giver, taker } = look;
  return {
    mode,
    giver,
    taker,
    since: goesOn ? before.since : t,
    readings: (goesOn ? before.readings : 0) + 1,
    sumW: (goesOn ? before.sumW : 0) + w,
    takerSumW: (goesOn ? before.takerSumW : 0) + look.takerW,
    giverSumW: (goesOn ? before.giverSumW : 0) + look.giverW,
  };
}

/** At light load, where a standing circulation would have to show, it does not. */
function takeContrary(work: Work, phase: string, group: readonly UnitRecord[], look: Look, t: number): void {
  const standing = work.open[phase];
  if (standing === undefined || standing.mode !== look.mode) return;
  const isLight = Math.abs(look.totalW) / group.length < CONTRARY_PART * standing.w;
  if (!isLight || look.takerW < -CONTRARY_PART * standing.w) {
    if (isLight) delete work.contrary[phase];
    return;
  }
  const before = work.contrary[phase];
  const contrary = { since: before?.since ?? t, readings: (before?.readings ?? 0) + 1 };
  work.contrary[phase] = contrary;
  if (contrary.readings < readingsNeeded(work.record) || t - contrary.since < HOLD_MS) return;
  work.done.push({ ...standing, end: contrary.since });
  delete work.open[phase];
  delete work.contrary[phase];
}

function judge(work: Work, phase: string, group: readonly UnitRecord[], t: number): void {
  const look = lookAt(work, group, t);
  const limitW = look === null ? null : limitOf(group, look.mode, work.record);
  if (look === null || limitW === null || look.giverW < limitW || look.takerW > -limitW) {
    delete work.stretch[phase];
    if (look !== null && limitW !== null) takeContrary(work, phase, group, look, t);
    return;
  }
  const stretch = extend(work.stretch[phase], look, t);
  work.stretch[phase] = stretch;
  delete work.contrary[phase];
  if (work.open[phase] !== undefined) return;
  if (stretch.readings < readingsNeeded(work.record) || t - stretch.since < HOLD_MS) return;
  const { mode, giver, taker, readings } = stretch;
  work.open[phase] = {
    phase,
    mode,
    giver,
    taker,
    start: stretch.since,
    detectedAt: t,
    end: null,
    w: stretch.sumW / readings,
    limitW,
    takerW: stretch.takerSumW / readings,
    giverW: stretch.giverSumW / readings,
    readings,
  };
}

interface Feed {
  readonly unit: UnitRecord;
  readonly source: SourceDay;
  readonly columns: UnitColumns;
}

function takeRow(work: Work, { unit, columns }: Feed, row: number, t: number): boolean {
  const w = powerAt(columns, row);
  if (w === null) return false;
  const place = placeAt(columns, row);
  work.now[unit.id] = { w, t, place: place === 'on' ? 'grid' : place === 'off' ? 'backup' : null };
  return true;
}

/** Whether nothing can begin or end on this day: no unit takes from the output, and nothing stands. */
function isPlain(work: Work, feeds: readonly Feed[]): boolean {
  for (const _ in work.open) return false;
  for (const _ in work.stretch) return false;
  return !feeds.some(({ source }) => columnOf(source, 'output_power_w')?.some((w) => w <= -ROUND_W) ?? true);
}

function foldDay(work: Work, feeds: readonly Feed[]): void {
  const groups = [...phaseGroups(work.record)].filter(([, group]) => group.length > 1);
  // On a plain day only its last readings matter to what comes after.
  const from = isPlain(work, feeds)
    ? feeds.map(({ source }) => Math.max(0, source.tMs.length - 1))
    : feeds.map(() => 0);
  walkInstants(
    feeds.map(({ source }) => source),
    from,
    (t, rows, moved) => {
      const spoke = new Set<string>();
      for (let k = 0; k < feeds.length; k++)
        if (moved[k] === 1 && takeRow(work, feeds[k]!, rows[k]!, t)) spoke.add(feeds[k]!.unit.phase);
      for (const [phase, group] of groups) if (spoke.has(phase)) judge(work, phase, group, t);
      return true;
    },
  );
}

function fold(state: CirculatingPowerState, block: DayBlock, site: SiteHistory): CirculatingPowerState {
  const record = recordAt(site, block.day);
  const work: Work = {
    now: { ...state.now },
    stretch: { ...state.stretch },
    contrary: { ...state.contrary },
    open: { ...state.open },
    done: [...state.done],
    record,
  };
  const groups = phaseGroups(record);
  for (const [phase, standing] of Object.entries(work.open)) {
    const group = groups.get(phase) ?? [];
    if (group.some(({ id }) => id === standing.giver) && group.some(({ id }) => id === standing.taker)) continue;
    work.done.push({ ...standing, end: Math.max(standing.detectedAt, record.validFrom ?? 0) });
    delete work.open[phase];
  }
  const feeds = record.units.flatMap((unit): Feed[] => {
    const source = block.units.get(unit.id);
    return source === undefined ? [] : [{ unit, source, columns: unitColumns(source, unit, record) }];
  });
  if (feeds.length > 1) foldDay(work, feeds);
  const { now, stretch, contrary, open, done } = work;
  return { now, stretch, contrary, open, done };
}

function findingOf(one: Circulation, site: string): Finding {
  return {
    site,
    kind: 'circulating_power',
    subject: 'site',
    start: epochMs(one.start),
    detectedAt: epochMs(one.detectedAt),
    end: one.end === null ? null : epochMs(one.end),
    severity: 'plan',
    measure: 'power going round between units',
    value: Math.round(one.w),
    baseline: null,
    limit: Math.round(one.limitW),
    causes: [],
    evidence: {
      mode: one.mode,
      phase: one.phase,
      giving: one.giver,
      taking: one.taker,
      giving_w: Math.round(one.giverW),
      taking_w: Math.round(one.takerW),
      readings: one.readings,
      held_s: Math.round((one.detectedAt - one.start) / SECOND_MS),
      false_alarms_a_year: FALSE_ALARMS_A_SITE_YEAR.circulating_power,
    },
  };
}

export const circulatingPower: Analyzer<CirculatingPowerState> = {
  name: 'circulating_power',
  version: 1,
  begin: () => ({ now: {}, stretch: {}, contrary: {}, open: {}, done: [] }),
  fold,
  answer(state, site) {
    const all = [...state.done, ...Object.values(state.open)].sort(
      (a, b) => a.start - b.start || (a.phase < b.phase ? -1 : 1),
    );
    return { findings: all.map((one) => findingOf(one, site.site)), cannotTell: [] };
  },
};
