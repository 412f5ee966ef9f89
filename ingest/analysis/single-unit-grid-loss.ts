/**
 * One unit without the grid while the others keep it: its input breaker, or on a phase of its own the
 * phase of the supply. Units leave and come back within minutes of each other in any grid loss, and clocks
 * are off; so the others must have kept the grid, by their own readings, throughout a longer time than that.
 */
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import { walkInstants } from '../alignment/site-ticks.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, readingsAYear, readingsToHold } from './_budget.ts';
import { freshMs } from './_patience.ts';
import { gridLossCauses, lostPhases } from './_supply-causes.ts';
import {
  isStuck,
  type SightColumns,
  type SightRun,
  sightAt,
  sightColumns,
  takeDayOnGrid,
  takeSight,
} from './_supply-sight.ts';
import { gridVoltageAt } from './_unit-now.ts';
import type { Analyzer } from './analyzer.ts';

/** Longer than any reconnect time (60–300 s), sampling and clocks that are off together. Our own choice. */
const ALONE_MS = 10 * MINUTE_MS;
/** A unit that sees the grid and does not take it up may wait for several reconnect times. */
const WAITING_MS = 30 * MINUTE_MS;
/** Chance that a single reading puts a unit off the grid by mistake. */
const MISREAD = 0.01;

interface Loss {
  readonly units: readonly string[];
  /** Of those, who has had the grid again. */
  readonly back: readonly string[];
  readonly start: number;
  readonly detectedAt: number;
  readonly end: number | null;
  readonly isWaiting: boolean;
  readonly volts: number | null;
  readonly othersVolts: number | null;
  readonly nominalV: number;
  readonly keptBy: readonly string[];
  readonly phases: readonly string[];
  readonly sitePhases: number;
  /** What a current transformer on the lost phase reads, W; null where there is none. */
  readonly ctW: number | null;
  readonly ratedW: number;
}

export interface SingleUnitGridLossState {
  readonly runs: Readonly<Record<string, SightRun>>;
  readonly ctW: Readonly<Record<string, number>>;
  readonly open: readonly Loss[];
  readonly done: readonly Loss[];
}

interface Work {
  runs: Record<string, SightRun>;
  ctW: Record<string, number>;
  open: Loss[];
  done: Loss[];
  readonly record: SiteRecord;
}

/** How long one unit must have been away while another had the grid all the time; null if that is not so at t. */
function aloneSince(id: string, work: Work, t: number): number | null {
  const { record, runs } = work;
  const own = runs[id];
  if (own === undefined || own.awaySince === null || t - own.t > freshMs(record)) return null;
  const witnesses = record.units.flatMap((unit) => {
    const run = runs[unit.id];
    const speaks = unit.id !== id && run !== undefined && run.sight === 'has' && t - run.t <= freshMs(record);
    return speaks && !isStuck(run) ? [run.since] : [];
  });
  return witnesses.length === 0 ? null : Math.max(own.awaySince, Math.min(...witnesses));
}

function isRipe(id: string, since: number, work: Work, t: number): boolean {
  const run = work.runs[id]!;
  const holdMs = run.sight === 'gone' ? ALONE_MS : WAITING_MS;
  const trials = readingsAYear(work.record.sample_interval_s) * work.record.units.length;
  const needed = readingsToHold(FALSE_ALARMS_A_SITE_YEAR.single_unit_grid_loss, trials, MISREAD);
  // Its own newest reading must lie that late, not only the clock of the others.
  return run.t - Math.max(since, run.since) >= holdMs && run.readings >= needed && t - since >= holdMs;
}

/** The phase of each unit's own transformer, and what it reads; the strongest on any of these phases. */
function ctOn(phases: readonly string[], work: Work): number | null {
  const readings = work.record.units.flatMap((unit) => {
    const w = work.ctW[unit.id];
    const phase = work.record.ct.find((ct) => ct.unit === unit.id)?.phase ?? unit.phase;
    return w !== undefined && phases.includes(phase) ? [Math.abs(w)] : [];
  });
  return readings.length === 0 ? null : Math.max(...readings);
}

/** Opens what is due at t: the units that went away together are one condition. */
function raise(work: Work, t: number): void {
  const { record, runs } = work;
  const known = new Set(work.open.flatMap(({ units }) => units));
  const away = record.units.flatMap(({ id }) => {
    const since = known.has(id) ? null : aloneSince(id, work, t);
    return since === null ? [] : [{ id, since }];
  });
  const first = away.find(({ id, since }) => isRipe(id, since, work, t));
  if (first === undefined) return;
  const together = away.filter(({ since }) => Math.abs(since - first.since) <= ALONE_MS);
  const units = together.map(({ id }) => id);
  const phases = lostPhases(record, units);
  const kept = record.units.filter(({ id }) => runs[id]?.sight === 'has' && t - runs[id].t <= freshMs(record));
  // Where most of a phase is away and one is not, it is that one's word that is odd.
  const isOdd = units.length > 1 && phases.length === 0 && kept.length < units.length;
  if (isOdd) return;
  const own = runs[first.id]!;
  work.open.push({
    units,
    back: [],
    start: Math.min(...together.map(({ since }) => since)),
    detectedAt: t,
    end: null,
    isWaiting: own.sight === 'waiting',
    volts: own.volts,
    othersVolts: kept.map(({ id }) => runs[id]!.volts).find((volts) => volts !== null) ?? null,
    nominalV: record.supply.nominal_voltage_v,
    keptBy: kept.map(({ id }) => id),
    phases,
    sitePhases: new Set(record.units.map(({ phase }) => phase)).size,
    ctW: ctOn(phases, work),
    ratedW: record.units.find(({ id }) => id === first.id)!.rated_power_w,
  });
}

/** A unit has the grid again at t. */
function giveBack(work: Work, id: string, t: number): void {
  for (const loss of [...work.open]) {
    if (!loss.units.includes(id) || loss.back.includes(id)) continue;
    const back = [...loss.back, id];
    work.open = work.open.filter((other) => other !== loss);
    if (loss.units.every((unit) => back.includes(unit))) work.done.push({ ...loss, back, end: t });
    else work.open.push({ ...loss, back });
  }
}

interface Feed {
  readonly id: string;
  readonly source: SourceDay;
  readonly columns: SightColumns;
  readonly ctW: Float64Array | null;
}

function takeRow(work: Work, { id, columns, ctW }: Feed, row: number, t: number): void {
  const watts = ctW === null ? Number.NaN : ctW[row]!;
  if (!Number.isNaN(watts)) work.ctW[id] = watts;
  const sight = sightAt(columns, row);
  if (sight === null) return;
  const before = work.runs[id] ?? null;
  const volts = gridVoltageAt(columns.unit, row);
  work.runs[id] = takeSight(before, sight, Number.isNaN(volts) ? null : volts, t);
  if (sight === 'has' && before !== null && before.sight !== 'has') giveBack(work, id, t);
}

/** The same for a whole day on which the unit has the grid. */
function takePlainDay(work: Work, { id, columns, ctW }: Feed): void {
  const { unit } = columns;
  const run = takeDayOnGrid(work.runs[id] ?? null, unit.tMs, (row) => gridVoltageAt(unit, row));
  if (run !== null) work.runs[id] = run;
  const watts = ctW?.findLast((value) => !Number.isNaN(value));
  if (watts !== undefined) work.ctW[id] = watts;
}

/** Whether every reading of the day has the grid and nobody was away before: nothing can begin or end in it. */
function isPlain(work: Work, feeds: readonly Feed[]): boolean {
  if (work.open.length > 0 || Object.values(work.runs).some(({ sight }) => sight !== 'has')) return false;
  return feeds.every(({ columns }) => {
    for (let row = 0; row < columns.unit.tMs.length; row++) if (sightAt(columns, row) !== 'has') return false;
    return true;
  });
}

/** A unit that the record no longer names is missing no grid. */
function endRetired(work: Work): void {
  const named = new Set(work.record.units.map(({ id }) => id));
  for (const id of Object.keys(work.runs)) {
    if (named.has(id)) continue;
    const lastT = Math.max(work.record.validFrom ?? 0, ...work.open.map(({ detectedAt }) => detectedAt));
    giveBack(work, id, lastT);
    delete work.runs[id];
  }
}

function fold(state: SingleUnitGridLossState, block: DayBlock, site: SiteHistory): SingleUnitGridLossState {
  const record = recordAt(site, block.day);
  const work: Work = {
    runs: { ...state.runs },
    ctW: { ...state.ctW },
    open: [...state.open],
    done: [...state.done],
    record,
  };
  endRetired(work);
  const feeds = record.units.flatMap((unit): Feed[] => {
    const source = block.units.get(unit.id);
    if (source === undefined) return [];
    const columns = sightColumns(source, unit, record);
    return [{ id: unit.id, source, columns, ctW: columnOf(source, 'ct_power_w') }];
  });
  if (isPlain(work, feeds)) {
    for (const feed of feeds) takePlainDay(work, feed);
  } else {
    walkInstants(
      feeds.map(({ source }) => source),
      feeds.map(() => 0),
      (t, rows, moved) => {
        for (let k = 0; k < feeds.length; k++) if (moved[k] === 1) takeRow(work, feeds[k]!, rows[k]!, t);
        if (Object.values(work.runs).some(({ awaySince }) => awaySince !== null)) raise(work, t);
        return true;
      },
    );
  }
  const { runs, ctW, open, done } = work;
  return { runs, ctW, open, done };
}

function findingOf(loss: Loss, site: string): Finding {
  const { units } = loss;
  return {
    site,
    kind: 'single_unit_grid_loss',
    subject: units.length === 1 ? units[0]! : null,
    ...(units.length === 1 ? {} : { candidates: units }),
    start: epochMs(loss.start),
    detectedAt: epochMs(loss.detectedAt),
    end: loss.end === null ? null : epochMs(loss.end),
    // On the battery alone it drains the bank, and at the next grid loss nothing is left to lose it from.
    severity: 'soon',
    measure: 'grid voltage at the unit',
    value: loss.volts,
    baseline: loss.othersVolts,
    limit: Math.round(loss.nominalV * 5) / 10,
    causes: gridLossCauses(loss),
    evidence: {
      kept_by: loss.keptBy,
      units_without_grid: units,
      phases_without_grid: loss.phases,
      sees_the_grid: loss.isWaiting,
      ct_power_w: loss.ctW,
      held_s: Math.round((loss.detectedAt - loss.start) / SECOND_MS),
      false_alarms_a_year: FALSE_ALARMS_A_SITE_YEAR.single_unit_grid_loss,
    },
  };
}

export const singleUnitGridLoss: Analyzer<SingleUnitGridLossState> = {
  name: 'single_unit_grid_loss',
  version: 1,
  begin: () => ({ runs: {}, ctW: {}, open: [], done: [] }),
  fold,
  answer(state, site) {
    const all = [...state.done, ...state.open].sort(
      (a, b) => a.start - b.start || (a.units[0]! < b.units[0]! ? -1 : 1),
    );
    return { findings: all.map((loss) => findingOf(loss, site.site)), cannotTell: [] };
  },
};
