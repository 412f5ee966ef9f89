/** Stored blocks of one site and day → the day block that the analyzers fold over. */
import type { AlarmChange, DayBlock, SettingChange, SourceDay } from '../alignment/day-block.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory } from '../site/record.ts';
import type { DecodedDay } from '../store/day-block-codec.ts';
import type { ReadingStore, StoredSource } from '../store/reading-store.ts';
import { COLUMNS, type QuantityId, type SourceKind } from '../vocabulary/quantities.ts';
import type { SettingValue } from '../vocabulary/reading.ts';
import { resolveClaims } from '../vocabulary/resolve-claims.ts';
import { DAY_MS, type EpochMs, epochMs } from '../vocabulary/time.ts';
import { utcOffsetMs } from './utc-offset.ts';

const DIVISORS: { readonly [Kind in SourceKind]: readonly number[] } = {
  unit: COLUMNS.unit.map((c) => 10 ** c.decimals),
  pack: COLUMNS.pack.map((c) => 10 ** c.decimals),
  bank: COLUMNS.bank.map((c) => 10 ** c.decimals),
  meter: COLUMNS.meter.map((c) => 10 ** c.decimals),
};

/** What limits the reading of a day. */
export interface DayCut {
  /** Readings after it had not arrived; null for all. */
  readonly upTo: number | null;
  /** Times of set-aside readings by source. */
  readonly setAside: ReadonlyMap<number, ReadonlySet<number>>;
  /** Times of set-aside lines of settings and alarms by source; absent: none. */
  readonly lines?: ReadonlyMap<number, ReadonlySet<number>>;
}

/**
 * The day block of a site.
 *
 * @param sources the site's sources in the store; those that the record does not name at that day are left out
 * @returns null where nothing of the site is left on that day
 */
export function readDay(
  store: ReadingStore,
  sources: readonly StoredSource[],
  history: SiteHistory,
  dayMs: number,
  cut: DayCut,
): DayBlock | null {
  const record = recordAt(history, dayMs + DAY_MS - 1);
  const named: { readonly [Kind in SourceKind]: ReadonlySet<string> } = {
    unit: new Set(record.units.map((u) => u.id)),
    pack: new Set(record.packs.map((p) => p.id)),
    bank: new Set(['bank']),
    meter: new Set(record.meters.map((m) => m.id)),
  };
  const days: { readonly [Kind in SourceKind]: Map<string, SourceDay> } = {
    unit: new Map(),
    pack: new Map(),
    bank: new Map(),
    meter: new Map(),
  };
  const to = Math.min(dayMs + DAY_MS, cut.upTo === null ? Number.POSITIVE_INFINITY : cut.upTo + 1);
  const settings: SettingChange[] = [];
  const alarms: AlarmChange[] = [];
  let isEmpty = true;
  for (const { source, kind, id } of sources) {
    if (!named[kind].has(id)) continue;
    for (const decoded of store.readBlocks(source, dayMs, dayMs, { divisors: DIVISORS[kind], extras: false })) {
      const day = sourceDay(kind, id, decoded, to, cut.setAside.get(source));
      if (day === null) continue;
      days[kind].set(id, day);
      isEmpty = false;
    }
    const aside = cut.lines?.get(source);
    const counts = ({ t }: { readonly t: number }): boolean => aside?.has(t) !== true;
    if (kind === 'unit') settings.push(...settingChanges(store, source, id, dayMs, to).filter(counts));
    for (const { t, alarm, state } of store.alarms(source, dayMs, to).filter(counts))
      alarms.push({ id, t: epochMs(t), alarm, state });
  }
  if (isEmpty && settings.length === 0 && alarms.length === 0) return null;
  return {
    day: dayMs as EpochMs,
    utcOffsetMs: utcOffsetMs(record.timezone, dayMs),
    units: days.unit,
    packs: days.pack,
    bank: days.bank.get('bank') ?? null,
    meters: days.meter,
    settings: settings.sort((a, b) => a.t - b.t || compare(a.unit, b.unit) || compare(a.key, b.key)),
    alarms: alarms.sort(
      (a, b) => a.t - b.t || compare(a.id, b.id) || compare(a.alarm, b.alarm) || compare(a.state, b.state),
    ),
  };
}

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** Cuts a decoded block at `to` and takes out what is set aside. */
function sourceDay(
  kind: SourceKind,
  id: string,
  decoded: DecodedDay,
  to: number,
  aside: ReadonlySet<number> | undefined,
): SourceDay | null {
  let { tMs } = decoded;
  let count = tMs.length;
  while (count > 0 && tMs[count - 1]! >= to) count--;
  // A set-aside reading is the only one of its site and day.
  if (aside !== undefined && count > 0 && aside.has(tMs[0]!)) return null;
  if (count === 0) return null;
  const columns = new Map<QuantityId, Float64Array>();
  decoded.columns.forEach((values, index) => {
    if (values !== undefined)
      columns.set(COLUMNS[kind][index]!.id, count < tMs.length ? values.subarray(0, count) : values);
  });
  if (count < tMs.length) tMs = tMs.subarray(0, count);
  return { id, tMs, columns };
}

/** One change a key and instant; contradicting lines are decided as for readings, or leave null. */
function settingChanges(store: ReadingStore, source: number, unit: string, from: number, to: number): SettingChange[] {
  const byCell = new Map<
    string,
    { t: number; key: string; claims: { value: string; replaces: boolean; revision: number }[] }
  >();
  for (const { t, key, value, replaces, revision } of store.settings(source, from, to)) {
    const cell = byCell.get(`${t} ${key}`) ?? { t, key, claims: [] };
    byCell.set(`${t} ${key}`, cell);
    cell.claims.push({ value: JSON.stringify(value), replaces, revision });
  }
  return [...byCell.values()].map(({ t, key, claims }) => {
    const value = resolveClaims(claims);
    return { unit, t: epochMs(t), key, value: value === null ? null : (JSON.parse(value) as SettingValue) };
  });
}
