/**
 * share_drift: a unit carries another part of the load than was proven. Grid and backup apart, each phase group by itself.
 *
 * Method in DEVELOPERS.md, "Share of the load".
 */
import type { DayBlock } from '../alignment/day-block.ts';
import { columnOf } from '../alignment/day-block.ts';
import { binLengthMs, type PowerBin, powerBins, type SharingMode } from '../alignment/power-bins.ts';
import { phaseGroups, recordAt, unchangedSince } from '../site/history.ts';
import type { SiteHistory, SiteRecord, UnitRecord } from '../site/record.ts';
import type { ProvenFigure, ShareChart } from '../vocabulary/figure.ts';
import type { CannotTell, Finding } from '../vocabulary/finding.ts';
import { DAY_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { shareChart, shareFigures, withDay } from './_share-figures.ts';
import { driftFinding } from './_share-finding.ts';
import type { GroupState } from './_share-state.ts';
import { newWatch, type ShareWatch, type WatchOptions, watchBin } from './_share-watch.ts';
import type { Analyzer, Answer } from './analyzer.ts';

/** Shares mean little at low load (domain.md). */
const LOADED_SHARE = 0.2;
const PEAK_DAYS = 30;
/** Charging with more than this of the rating moves shares through the input cables, our own choice. */
const CHARGE_SHARE = 0.1;
const MODES: readonly SharingMode[] = ['grid', 'backup'];

export interface ShareDriftState {
  readonly groups: readonly GroupState[];
  readonly ended: readonly Finding[];
}

function begin(): ShareDriftState {
  return { groups: [], ended: [] };
}

/** When the baseline of a group may begin: its newest change, or commissioning. */
function groupSince(history: SiteHistory, record: SiteRecord, units: readonly UnitRecord[], t: number): number | null {
  const changes = units.flatMap((unit) => unchangedSince(history, unit.id, t) ?? []);
  const all = record.commissioned === null ? changes : [...changes, record.commissioned];
  return all.length === 0 ? null : Math.max(...all);
}

function newGroup(phase: string, units: readonly UnitRecord[], since: number | null): GroupState {
  const watches = { grid: newWatch(units.length), backup: newWatch(units.length) };
  return {
    phase,
    ids: units.map((u) => u.id),
    since,
    watches,
    pending: [],
    days: { grid: [], backup: [] },
    peaksA: [],
  };
}

function fold(state: ShareDriftState, block: DayBlock, history: SiteHistory): ShareDriftState {
  const record = recordAt(history, block.day + DAY_MS - 1);
  const ended: Finding[] = [...state.ended];
  const groups: GroupState[] = [];
  const kept = new Set<GroupState>();
  for (const [phase, units] of phaseGroups(record)) {
    if (units.length < 2) continue;
    const since = groupSince(history, record, units, block.day + DAY_MS - 1);
    const known = state.groups.find((g) => g.phase === phase);
    const isSame = known !== undefined && known.since === since && known.ids.join() === units.map((u) => u.id).join();
    // A unit was replaced or a cable redone: what was open ends, and a new baseline begins.
    if (isSame) kept.add(known);
    groups.push(foldGroup(isSame ? known : newGroup(phase, units, since), units, block, history, record, ended));
  }
  // So it does where the group itself is gone from the record.
  const changedAt = record.validFrom ?? block.day;
  ended.push(...state.groups.filter((g) => !kept.has(g)).flatMap((g) => endedByChange(g, history, changedAt)));
  return { groups, ended };
}

function endedByChange(group: GroupState, history: SiteHistory, end: number): Finding[] {
  return MODES.flatMap((mode) => {
    const watch = group.watches[mode];
    return watch.open === null ? [] : (driftFinding({ group, mode, watch, drift: watch.open, end, history }) ?? []);
  });
}

function foldGroup(
  group: GroupState,
  units: readonly UnitRecord[],
  block: DayBlock,
  history: SiteHistory,
  record: SiteRecord,
  ended: Finding[],
): GroupState {
  const days = units.map((unit) => block.units.get(unit.id));
  const times = days.map((day) => day?.tMs ?? new Float64Array(0));
  const options = watchOptions(record, units);
  const bins = powerBins(days, {
    day: block.day,
    sampleIntervalS: record.sample_interval_s,
    nominalVoltageV: record.supply.nominal_voltage_v,
    ...(isWiredOnGrid(record) ? { chargeMaxW: CHARGE_SHARE * ratedOf(units) } : {}),
  });
  const loadedW = loadedFromW(units);
  const watches = { ...group.watches };
  const pending: PowerBin[] = [];
  const peaksA = withPeaks(group.peaksA, block.day, days);
  const loaded = bins.filter((bin) => bin.totalW >= loadedW && bin.t >= (group.since ?? Number.NEGATIVE_INFINITY));
  const daysOf = (mode: SharingMode) =>
    withDay(
      group.days[mode],
      block.day,
      loaded.filter((bin) => bin.mode === mode),
    );
  for (const bin of [...group.pending, ...bins]) {
    if (bin.totalW < loadedW || bin.t < (group.since ?? Number.NEGATIVE_INFINITY)) continue;
    const closedAt = firstAtOrAfter(times, bin.endMs);
    if (closedAt === null) {
      pending.push(bin);
      continue;
    }
    const step = watchBin(watches[bin.mode], bin, closedAt, options);
    watches[bin.mode] = step.watch;
    if (step.ended !== null) {
      const { drift, watch, end } = step.ended;
      const finding = driftFinding({ group: { ...group, peaksA }, mode: bin.mode, watch, drift, end, history });
      if (finding !== null) ended.push(finding);
    }
  }
  return { ...group, watches, pending, days: { grid: daysOf('grid'), backup: daysOf('backup') }, peaksA };
}

const ratedOf = (units: readonly UnitRecord[]): number => units.reduce((sum, u) => sum + u.rated_power_w, 0);

/** Pass-through, where the record does not say otherwise. */
const isWiredOnGrid = ({ sharing }: SiteRecord): boolean => sharing.grid === null || sharing.grid === 'wired';

function loadedFromW(units: readonly UnitRecord[]): number {
  return LOADED_SHARE * ratedOf(units);
}

function watchOptions(record: SiteRecord, units: readonly UnitRecord[]): WatchOptions {
  const binsAYear = (365 * DAY_MS) / binLengthMs(record.sample_interval_s);
  const groups = [...phaseGroups(record).values()].filter((g) => g.length > 1).length;
  return {
    shiftPoints: record.limits.share_points,
    threshold: llrThreshold(FALSE_ALARMS_A_SITE_YEAR.share_drift, binsAYear, 2 * units.length * MODES.length * groups),
    ratedW: units.reduce((sum, u) => sum + u.rated_power_w, 0) / units.length,
  };
}

/** The least time of any unit's reading at or after t, or null. */
function firstAtOrAfter(times: readonly Float64Array[], t: number): number | null {
  let first = Number.POSITIVE_INFINITY;
  for (const tMs of times) {
    if (tMs.length === 0 || tMs[tMs.length - 1]! < t) continue;
    let low = 0;
    let high = tMs.length - 1;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (tMs[middle]! < t) low = middle + 1;
      else high = middle;
    }
    first = Math.min(first, tMs[low]!);
  }
  return Number.isFinite(first) ? first : null;
}

function withPeaks(
  peaks: GroupState['peaksA'],
  day: number,
  days: readonly (DayBlock['bank'] | undefined)[],
): GroupState['peaksA'] {
  const unitA = days.map((unit) => {
    let peak = 0;
    for (const a of columnOf(unit, 'output_current_a') ?? []) if (a > peak) peak = a;
    return peak;
  });
  return [...peaks.filter((p) => p.day !== day), { day, unitA }].filter((p) => p.day > day - PEAK_DAYS * DAY_MS);
}

function answer(state: ShareDriftState, history: SiteHistory, asOf: number): Answer {
  const findings: Finding[] = [...state.ended];
  const cannotTell: CannotTell[] = [];
  const figures: ProvenFigure[] = [];
  const shareCharts: ShareChart[] = [];
  const record = recordAt(history, asOf);
  for (const group of state.groups) {
    const units = record.units.filter((unit) => group.ids.includes(unit.id));
    for (const mode of MODES) {
      const watch = group.watches[mode];
      if (watch.open !== null) {
        const finding = driftFinding({ group, mode, watch, drift: watch.open, end: null, history });
        if (finding !== null) findings.push(finding);
      }
      const because = watch.baseline === null ? learningText(mode, watch) : null;
      if (because !== null)
        cannotTell.push({ site: history.site, kind: 'share_drift', subject: group.ids.join(', '), because });
      figures.push(...shareFigures(history.site, group, mode, record.limits.share_points / 100, because));
      shareCharts.push(shareChart(history.site, group, mode, loadedFromW(units)));
    }
  }
  return { findings, cannotTell, figures, shareCharts };
}

function learningText(mode: SharingMode, watch: ShareWatch): string {
  return mode === 'grid'
    ? `the baseline on the grid needs 7 loaded days, ${watch.loadedDays} are in`
    : `the baseline in backup needs 120 loaded minutes, ${Math.floor(watch.loadedMinutes)} are in`;
}

export const shareDrift: Analyzer<ShareDriftState> = { name: 'share_drift', version: 5, begin, fold, answer };
