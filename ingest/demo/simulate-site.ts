/** One site from day to day: moves it on tick by tick and writes what its sources send. */
import type { SourceKind } from '../vocabulary/quantities.ts';
import type { SourceKey } from '../vocabulary/reading.ts';
import { DAY_MS, dayOf, formatDay } from '../vocabulary/time.ts';
import { splitCurrent } from './battery.ts';
import { beginTick, type Delivery, deliver, heldSink, planDelivery, windowOf } from './delivery.ts';
import { busCurrentA, evaluate, loadAtSecond } from './evaluate.ts';
import { fillDayLoad } from './load.ts';
import {
  appendReading,
  appendText,
  type ByteSink,
  createLayout,
  createSink,
  csvHeader,
  csvQuantities,
  type LineLayout,
  type LogFormat,
} from './log-lines.ts';
import { createPrng, type Prng } from './prng.ts';
import { appendRow, type RowSink } from './row-sink.ts';
import { alarmLines, type SettingsDue, settingsDue, settingsLine } from './settings-lines.ts';
import type { Period, SitePlan } from './site-plan.ts';
import { createSiteState, hasOutage, outageNear, type SiteState } from './site-state.ts';
import { createValues, measureBank, measureMeter, measurePack, measureUnit, sentQuantities } from './source-values.ts';
import { moveOn } from './tick.ts';
import { beginDay } from './weather.ts';

/** One source of lines: a unit, pack, the bank or the meter. */
export interface Source {
  readonly kind: SourceKind;
  /** Place among its kind. */
  readonly index: number;
  readonly layout: LineLayout;
  /** When in an interval it is read, as a share of the interval, plus a fixed delay. */
  readonly phaseShare: number;
  readonly phaseMs: number;
  readonly jitter: Prng;
}

export interface SiteRun {
  readonly state: SiteState;
  readonly delivery: Delivery;
  readonly sources: readonly Source[];
  readonly format: LogFormat;
  readonly values: Readonly<Record<SourceKind, Float64Array>>;
  readonly luck: Prng;
  /** Two sets of the day's files, used by turns: one is still being written while the next fills. */
  readonly fileSets: readonly (readonly ByteSink[])[];
  /** Ticks since the start: slow quantities go out on every tenth. */
  ticks: number;
  readings: number;
  /** The instant must be worked out anew even where the load is the same. */
  isStale: boolean;
  /** Where the streams of the loads stood when the day began. */
  loadSeeds: readonly (readonly number[])[];
  /** Settings still to be sent today, in order. */
  settingsDue: readonly SettingsDue[];
  /** Where readings that arrive in time go as numbers; null: they go to the day's files as text. */
  rows: RowSink | null;
}

/** Bytes of one file of a day, under its name in the site's folder. */
interface DayFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

const KINDS: readonly SourceKind[] = ['unit', 'pack', 'bank', 'meter'];
const SLOW_EVERY = 10;
const DUPLICATE_CHANCE = 0.0004;
const JITTER_MS = 55;
const MOST_JITTER_MS = 180;

function createSources(plan: SitePlan, seed: number, format: LogFormat): Source[] {
  const sources: Source[] = [];
  const add = (kind: SourceKind, index: number, id: string, phaseShare: number, phaseMs: number) => {
    sources.push({
      kind,
      index,
      layout: createLayout(
        kind,
        plan.id,
        id,
        format === 'csv' ? csvQuantities(kind) : sentQuantities(kind),
        format,
        plan.timeForm,
      ),
      phaseShare,
      phaseMs,
      jitter: createPrng(seed, `${plan.id} jitter ${id}`),
    });
  };
  const n = plan.units.length;
  plan.units.forEach((unit, i) => {
    add('unit', i, unit.id, 0.02 + (plan.spreadShare * i) / n, 250 + 137 * i);
  });
  const after = 0.06 + plan.spreadShare;
  plan.packs.forEach((pack, k) => {
    add('pack', k, pack.id, after, 300 + 110 * k);
  });
  if (plan.bankLine) add('bank', 0, 'bank', after, 200);
  if (plan.acPvW > 0) add('meter', 0, 'm1', after + 0.04, 200);
  return sources;
}

export function createSiteRun(plan: SitePlan, period: Period, seed: number, format: LogFormat): SiteRun {
  const state = createSiteState(plan, period, seed);
  const sources = createSources(plan, seed, format);
  return {
    state,
    delivery: planDelivery(createPrng(seed, `${plan.id} delivery`), plan, period, state.outages, sources.length),
    sources,
    format,
    values: {
      unit: createValues('unit'),
      pack: createValues('pack'),
      bank: createValues('bank'),
      meter: createValues('meter'),
    },
    luck: createPrng(seed, `${plan.id} luck`),
    fileSets: [createFiles(format), createFiles(format)],
    ticks: 0,
    readings: 0,
    isStale: true,
    loadSeeds: [],
    settingsDue: [],
    rows: null,
  };
}

/** The files of a day: one for NDJSON; for CSV one a kind, and NDJSON for settings and alarms, which CSV cannot say. */
function createFiles(format: LogFormat): ByteSink[] {
  return format === 'ndjson' ? [createSink(1 << 21)] : [...KINDS, null].map(() => createSink(1 << 18));
}

/** The sources of a site in the order in which rows name them. */
export function sourceKeys({ state, sources }: SiteRun): SourceKey[] {
  const { plan } = state;
  const idOf = ({ kind, index }: Source): string => {
    if (kind === 'unit') return plan.units[index]!.id;
    if (kind === 'pack') return plan.packs[index]!.id;
    return kind === 'bank' ? 'bank' : 'm1';
  };
  return sources.map((source) => ({ site: plan.id, kind: source.kind, id: idOf(source) }));
}

function openFiles(run: SiteRun, day: number): readonly ByteSink[] {
  const files = run.fileSets[Math.abs(day / DAY_MS) % 2]!;
  files.forEach((sink, file) => {
    sink.length = 0;
    const kind = KINDS[file];
    if (run.format === 'csv' && kind !== undefined) appendText(sink, csvHeader(kind));
  });
  return files;
}

function fileOf(run: SiteRun, kind: SourceKind): number {
  return run.format === 'ndjson' ? 0 : KINDS.indexOf(kind);
}

function nameOf(run: SiteRun, day: number, file: number): string {
  const kind = KINDS[file];
  if (run.format === 'ndjson' || kind === undefined) return `${formatDay(day)}.ndjson`;
  return `${formatDay(day)}.${kind}s.csv`;
}

/** Puts the site at an instant; nothing is worked out anew where load and mode stand as at the source before. */
function look(run: SiteRun, tMs: number, second: number): void {
  const { state } = run;
  const hasChanged = loadAtSecond(state, second);
  if (!hasChanged && !run.isStale) return;
  evaluate(state, tMs, state.pointLoadW, state.pointLoadVar);
  splitCurrent(state.bank, busCurrentA(state), 0);
  const outage = outageNear(state);
  run.isStale = outage !== null && outage.start < tMs + state.period.everyMs;
}

/** Puts the site at a source's instant and fills its values; false where the source is silent. */
export function measure(run: SiteRun, source: Source, tMs: number, second: number, withSlow: boolean): boolean {
  const { state, values } = run;
  const { effects } = state;
  if (effects.siteSilent) return false;
  if (source.kind === 'unit' && effects.unitSilent[source.index] === 1) return false;
  if (source.kind === 'pack' && effects.packSilent[source.index] === 1) return false;
  look(run, tMs, second);
  switch (source.kind) {
    case 'unit':
      measureUnit(state, source.index, tMs, withSlow, values.unit);
      return true;
    case 'pack':
      measurePack(state, source.index, withSlow, values.pack);
      return true;
    case 'bank':
      measureBank(state, values.bank);
      return true;
    case 'meter':
      measureMeter(state, values.meter);
      return true;
  }
}

/** Writes a line where its fate puts it: the day's file, a sink kept back, both, or nowhere. */
function send(run: SiteRun, place: number, source: Source, tMs: number, files: readonly ByteSink[]): void {
  const file = fileOf(run, source.kind);
  const values = run.values[source.kind];
  const window = windowOf(run.delivery, place, tMs);
  if (window?.fate === 'lost') return;
  run.readings += 1;
  if (window !== null) appendReading(heldSink(run.delivery, window, file, files.length), source.layout, tMs, values);
  if (window?.fate === 'late') return;
  const write = (): void => {
    if (run.rows === null) appendReading(files[file]!, source.layout, tMs, values);
    else appendRow(run.rows, place, source.layout, tMs, values);
  };
  write();
  if (run.luck.chance(DUPLICATE_CHANCE)) write();
}

/** Settings and alarms of a tick. */
function sayWords(run: SiteRun, from: number, to: number, sink: ByteSink): void {
  const { state } = run;
  while (run.settingsDue.length > 0 && run.settingsDue[0]!.t < to) {
    appendText(sink, settingsLine(state, run.settingsDue[0]!));
    run.settingsDue = run.settingsDue.slice(1);
  }
  const alarms = alarmLines(state, from, to);
  if (alarms !== '') appendText(sink, alarms);
}

/** Moves the site on to a tick; what it has to say in words until the next goes to `words`. */
export function beginSiteTick(run: SiteRun, day: number, tickMs: number, dtMs: number, words: ByteSink): void {
  moveOn(run.state, tickMs, dtMs / 1000, (tickMs - day) / 1000);
  sayWords(run, tickMs, tickMs + dtMs, words);
  run.isStale = true;
  run.ticks += 1;
}

/** When in a tick a source is read. */
export function instantOf(source: Source, tickMs: number, dtMs: number): number {
  const jitter = Math.max(-MOST_JITTER_MS, Math.min(MOST_JITTER_MS, JITTER_MS * source.jitter.normal()));
  const inTick = Math.round(source.phaseShare * dtMs + source.phaseMs + jitter);
  return tickMs + Math.min(dtMs - 1, Math.max(0, inTick));
}

/** Whether the readings of this tick carry what changes slowly. */
export const isSlowTick = ({ ticks }: SiteRun): boolean => (ticks - 1) % SLOW_EVERY === 0;

export function runTick(run: SiteRun, day: number, tickMs: number, dtMs: number, files: readonly ByteSink[]): void {
  beginTick(run.delivery, tickMs, tickMs + dtMs);
  beginSiteTick(run, day, tickMs, dtMs, files[files.length - 1]!);
  const withSlow = isSlowTick(run);
  run.sources.forEach((source, place) => {
    const tMs = instantOf(source, tickMs, dtMs);
    const second = Math.floor((tMs - day) / 1000);
    if (measure(run, source, tMs, second, withSlow)) send(run, place, source, tMs, files);
  });
  deliver(run.delivery, tickMs + dtMs, files);
}

/** Loads and settings of a UTC day, which must be the one after the last. */
export function beginSiteDay(run: SiteRun, day: number): void {
  if (dayOf(day) !== day) throw new RangeError(`Cannot simulate a day from ${day}: expected midnight UTC`);
  const { state } = run;
  beginDay(state.weather, state.slowPrng);
  run.loadSeeds = state.loadPrngs.map((prng) => prng.save());
  fillLoads(run, day);
}

/** Once more the loads of the day that the seeds begin. */
export function fillLoads(run: SiteRun, day: number): void {
  const { state } = run;
  const { plan } = state;
  // The machine of an overload stands from its first whole day on.
  const overload = plan.faults.find((fault) => fault.what === 'overload' && fault.start <= day);
  const addedShare = overload?.what === 'overload' ? overload.addedShare : 0;
  state.groups.forEach((_, g) => {
    state.loadPrngs[g]!.restore(run.loadSeeds[g]!);
    fillDayLoad(state.loads[g]!, state.loadPrngs[g]!, plan.kind, state.groupRatedW[g]!, day, addedShare);
  });
  run.settingsDue = settingsDue(plan, day);
}

/**
 * Runs one UTC day and returns its files, whose bytes hold until the day after the next is run. Days must
 * come in order; the last day of the period also holds what is still on its way.
 */
export function simulateDay(run: SiteRun, day: number): DayFile[] {
  const { state } = run;
  const { period } = state;
  const files = openFiles(run, day);
  beginSiteDay(run, day);
  const dtMs = hasOutage(state, day) ? period.eventEveryMs : period.everyMs;
  for (let tickMs = day; tickMs < day + DAY_MS; tickMs += dtMs) runTick(run, day, tickMs, dtMs, files);
  if (day + DAY_MS >= period.to) deliver(run.delivery, Infinity, files);
  return files.flatMap((sink, file) => {
    const isEmpty =
      run.format === 'csv' && file < KINDS.length && !run.sources.some((source) => fileOf(run, source.kind) === file);
    return isEmpty ? [] : [{ name: nameOf(run, day, file), bytes: sink.bytes.subarray(0, sink.length) }];
  });
}
