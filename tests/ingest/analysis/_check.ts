/** Text in, findings out: day blocks from lines like those of a log, so that a case does not know the analyzers. */
import { expect } from 'vitest';
import type { AlarmChange, DayBlock, SettingChange, SourceDay } from '../../../ingest/alignment/day-block.ts';
import type { Analyzer } from '../../../ingest/analysis/analyzer.ts';
import { recordAt } from '../../../ingest/site/history.ts';
import type { SiteHistory, SiteRecord } from '../../../ingest/site/record.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { COLUMNS, type QuantityId, type SourceKind } from '../../../ingest/vocabulary/quantities.ts';
import type { SettingValue } from '../../../ingest/vocabulary/reading.ts';
import { dayOf, epochMs, formatTime, parseTime } from '../../../ingest/vocabulary/time.ts';

export interface Line {
  readonly t: number;
  readonly unit?: string;
  readonly pack?: string;
  readonly bank?: string;
  readonly meter?: string;
  readonly settings?: Readonly<Record<string, SettingValue | null>>;
  readonly [quantity: string]: unknown;
}

/** '10:00' and '10:00:30' are of 2026-03-02, '+1 00:10' is of the day after. */
export function at(text: string): number {
  const [, plus, clock] = /^(?:\+(\d+) )?(.+)$/.exec(text)!;
  const full = clock!.length === 5 ? `${clock}:00` : clock!;
  return parseTime(`2026-03-02T${full}Z`)! + Number(plus ?? 0) * 86_400_000;
}

/** One line for each instant from (taken) to (not taken), every so many seconds. */
export function lines(from: string, to: string, everyS: number, line: (t: number) => Omit<Line, 't'> | null): Line[] {
  const out: Line[] = [];
  for (let t = at(from); t < at(to); t += everyS * 1000) {
    const values = line(t);
    if (values !== null) out.push({ ...values, t });
  }
  return out;
}

const KEYS = new Set(['t', 'unit', 'pack', 'bank', 'meter', 'settings', 'alarm', 'state']);

function sourceOf(line: Line): { kind: SourceKind; id: string } {
  if (line.unit !== undefined) return { kind: 'unit', id: line.unit };
  if (line.pack !== undefined) return { kind: 'pack', id: line.pack };
  if (line.meter !== undefined) return { kind: 'meter', id: line.meter };
  return { kind: 'bank', id: 'bank' };
}

function storedValue(kind: SourceKind, id: string, value: unknown): number {
  const words = COLUMNS[kind].find((column) => column.id === id)?.words ?? null;
  if (words === null) return typeof value === 'number' ? value : Number.NaN;
  return words.indexOf(String(value)) < 0 ? Number.NaN : words.indexOf(String(value));
}

function sourceDay(kind: SourceKind, id: string, own: readonly Line[]): SourceDay {
  const sorted = [...own].sort((a, b) => a.t - b.t);
  const ids = new Set(sorted.flatMap((line) => Object.keys(line).filter((key) => !KEYS.has(key))));
  const columns = new Map<QuantityId, Float64Array>();
  for (const quantity of ids) {
    const known = COLUMNS[kind].find((column) => column.id === quantity);
    if (known === undefined) throw new RangeError(`Cannot use "${quantity}": no quantity of a ${kind}`);
    columns.set(
      known.id,
      Float64Array.from(sorted, (line) => storedValue(kind, quantity, line[quantity])),
    );
  }
  return { id, tMs: Float64Array.from(sorted, ({ t }) => t), columns };
}

function alarmOf(line: Line): AlarmChange[] {
  if (line.alarm === undefined) return [];
  const state = line.state === 'cleared' ? 'cleared' : 'raised';
  return [{ id: sourceOf(line).id, t: epochMs(line.t), alarm: String(line.alarm), state }];
}

function blockOf(day: number, own: readonly Line[]): DayBlock {
  const readings = own.filter((line) => line.settings === undefined && line.alarm === undefined);
  const settings: SettingChange[] = own
    .flatMap((line) =>
      Object.entries(line.settings ?? {}).map(([key, value]) => ({ unit: line.unit!, t: epochMs(line.t), key, value })),
    )
    .sort((a, b) => a.t - b.t || (a.unit < b.unit ? -1 : a.unit > b.unit ? 1 : a.key < b.key ? -1 : 1));
  const byKind = (kind: SourceKind): Map<string, SourceDay> => {
    const ids = [
      ...new Set(
        readings
          .map(sourceOf)
          .filter((s) => s.kind === kind)
          .map((s) => s.id),
      ),
    ].sort();
    return new Map(
      ids.map((id) => [
        id,
        sourceDay(
          kind,
          id,
          readings.filter((line) => sourceOf(line).kind === kind && sourceOf(line).id === id),
        ),
      ]),
    );
  };
  return {
    day: epochMs(day),
    units: byKind('unit'),
    packs: byKind('pack'),
    bank: byKind('bank').get('bank') ?? null,
    meters: byKind('meter'),
    settings,
    alarms: own.flatMap(alarmOf).sort((a, b) => a.t - b.t || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0)),
  };
}

/** The day blocks of a log, in order; days without a line do not come. */
export function blocksOf(log: readonly Line[]): DayBlock[] {
  const byDay = new Map<number, Line[]>();
  for (const line of log) {
    const own = byDay.get(dayOf(line.t));
    if (own === undefined) byDay.set(dayOf(line.t), [line]);
    else own.push(line);
  }
  return [...byDay].sort(([a], [b]) => a - b).map(([day, own]) => blockOf(day, own));
}

export interface Fleet {
  readonly units?: readonly {
    id: string;
    phase?: SiteRecord['units'][number]['phase'];
    serial?: string;
    rated_power_w?: number;
  }[];
  readonly packs?: readonly string[];
  readonly intervalS?: number;
  readonly nominalV?: number;
  readonly more?: Partial<SiteRecord>;
}

/** A site record with what a test does not care about filled in. */
export function recordOf({
  units = [{ id: 'u1' }, { id: 'u2' }],
  packs = [],
  intervalS = 10,
  nominalV = 230,
  more = {},
}: Fleet = {}): SiteRecord {
  return {
    site: 'millpond',
    validFrom: null,
    name: 'Millpond Clinic',
    timezone: 'Europe/Lisbon',
    supply: { nominal_voltage_v: nominalV, nominal_frequency_hz: 50, phases: 1 },
    sample_interval_s: intervalS,
    units: units.map(({ id, phase = 'L1', serial, rated_power_w = 8000 }, k) => ({
      id,
      role: k === 0 ? 'lead' : 'follower',
      rated_power_w,
      phase,
      serial: serial ?? null,
      chain_position: k + 1,
      terminated: null,
      output_cable: null,
      input_cable: null,
    })),
    packs: packs.map((id) => ({
      id,
      capacity_ah: 100,
      nominal_voltage_v: 51.2,
      cells_in_series: 16,
      chemistry: 'lfp',
      serial: null,
    })),
    battery_link: null,
    ct: [],
    meters: [],
    neutral_earth_bond: null,
    sharing: { grid: null, backup: null },
    reserve_soc_pct: 20,
    ac_coupled_pv: false,
    island_frequency_band_hz: [49, 51],
    island_voltage_band_pct: [-10, 10],
    commissioned: null,
    group: null,
    limits: { share_points: 3, heat_w: 10, changeover_ms: 20 },
    expected_settings: {},
    ...more,
  };
}

export function siteOf(fleet: Fleet = {}): SiteHistory {
  return { site: 'millpond', documents: [recordOf(fleet)] };
}

/** Now of an import: upper median of the newest readings of the record's units and packs that have spoken. */
export function nowOf(site: SiteHistory, log: readonly Line[]): number {
  const record = recordAt(site, Math.max(...log.map(({ t }) => t)));
  const newest = [...record.units.map(({ id }) => `unit/${id}`), ...record.packs.map(({ id }) => `pack/${id}`)]
    .map((name) =>
      Math.max(
        ...log
          .filter((line) => line.settings === undefined && line.alarm === undefined)
          .filter((line) => `${sourceOf(line).kind}/${sourceOf(line).id}` === name)
          .map(({ t }) => t),
      ),
    )
    .filter(Number.isFinite)
    .sort((a, b) => a - b);
  return newest[Math.floor(newest.length / 2)] ?? 0;
}

/** Folds a whole log; every kept state goes through text, as it would in the store. */
export function foldLog<State>(analyzer: Analyzer<State>, site: SiteHistory, log: readonly Line[]): State {
  return blocksOf(log).reduce<State>(
    (state, block) => JSON.parse(JSON.stringify(analyzer.fold(state, block, site))) as State,
    analyzer.begin(site),
  );
}

export function findingsOf(
  analyzer: Analyzer<unknown>,
  site: SiteHistory,
  log: readonly Line[],
  asOf?: number,
): readonly Finding[] {
  return analyzer.answer(foldLog(analyzer, site, log), site, epochMs(asOf ?? nowOf(site, log))).findings;
}

/** 10:00:00, or +1 00:10:00 on the day after the first. */
export function clock(t: number | null): string | null {
  if (t === null) return null;
  const days = Math.round((dayOf(t) - at('00:00')) / 86_400_000);
  const time = formatTime(t).slice(11, 19);
  return days === 0 ? time : `+${days} ${time}`;
}

/** A finding in a line: kind subject start/detected/end severity first-cause. */
export function inWords(finding: Finding): string {
  const cause = finding.causes[0]?.cause;
  const { kind, subject, start, detectedAt, end, severity } = finding;
  return `${kind} ${subject} ${clock(start)} seen ${clock(detectedAt)} to ${clock(end) ?? 'now'} ${severity}${cause === undefined ? '' : ` ${cause}`}`;
}

export function check(
  analyzer: Analyzer<unknown>,
  site: SiteHistory,
  log: readonly Line[],
  expected: readonly string[],
  asOf?: number,
): void {
  expect(findingsOf(analyzer, site, log, asOf).map(inWords)).toEqual(expected);
}

/**
 * The law of causality by brute force: a log cut at any T prints exactly those findings that the whole
 * log says were seen by T.
 */
export function checkEveryCut(analyzer: Analyzer<unknown>, site: SiteHistory, log: readonly Line[]): void {
  const name = ({ kind, subject, start, detectedAt }: Finding): string =>
    `${kind} ${subject} ${clock(start)} seen ${clock(detectedAt)}`;
  const whole = findingsOf(analyzer, site, log);
  for (const t of [...new Set(log.map((line) => line.t))].sort((a, b) => a - b)) {
    const cut = findingsOf(
      analyzer,
      site,
      log.filter((line) => line.t <= t),
    );
    const due = whole.filter(({ detectedAt }) => detectedAt <= t);
    expect(cut.map(name).sort(), `cut at ${clock(t)}`).toEqual(due.map(name).sort());
  }
}
