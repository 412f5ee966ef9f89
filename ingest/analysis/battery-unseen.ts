/**
 * A unit that no longer sees the battery: it reports other values, but no state of charge. With one data
 * cable the followers repeat what the lead passes on, so unseen by all points at that cable, unseen by a
 * follower at the parallel link or a setting.
 */
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import { walkInstants } from '../alignment/site-ticks.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import type { SettingValue } from '../vocabulary/reading.ts';
import { epochMs, HOUR_MS, MINUTE_MS } from '../vocabulary/time.ts';
import { freshMs } from './_patience.ts';
import { settingKey } from './_setting-values.ts';
import { MODE } from './_unit-now.ts';
import { type Unseen, unseenCauses } from './_unseen-causes.ts';
import type { Analyzer } from './analyzer.ts';

const UNSEEN_MS = 10 * MINUTE_MS;
const UNSEEN_READINGS = 6;
/** Charge that is sent rarely is missed only after several times its usual distance. */
const USUAL_GAPS = 4;
/** So many gaps make a habit; fewer may be faults. */
const GAPS_LEARNT = 3;
/** Under this share of the last voltage with the battery in sight, it is gone from the terminals too. */
const VOLTAGE_COLLAPSED = 0.8;

interface Sight {
  heardT: number | null;
  /** First reading without a charge since the last one with it. */
  unseenSince: number | null;
  unseenReadings: number;
  lastSocPct: number | null;
  lastSocT: number | null;
  gapSumMs: number;
  gaps: number;
  /** Battery voltage at this unit when it last saw the battery; null where it never sent one. */
  seenDcV: number | null;
  dcV: number | null;
  dcT: number | null;
}

export interface BatteryUnseenState {
  readonly sights: Readonly<Record<string, Sight>>;
  /** First charge that any unit of the site sent. */
  readonly firstSocT: number | null;
  readonly settings: Readonly<Record<string, Readonly<Record<string, SettingValue>>>>;
  readonly open: Readonly<Record<string, Unseen>>;
  readonly done: readonly Unseen[];
}

interface Work {
  sights: Record<string, Sight>;
  firstSocT: number | null;
  settings: BatteryUnseenState['settings'];
  open: Record<string, Unseen>;
  done: Unseen[];
  readonly record: SiteRecord;
}

const unheard = (): Sight => ({
  heardT: null,
  unseenSince: null,
  unseenReadings: 0,
  lastSocPct: null,
  lastSocT: null,
  gapSumMs: 0,
  gaps: 0,
  seenDcV: null,
  dcV: null,
  dcT: null,
});

interface UnitFeed {
  readonly id: string;
  readonly source: SourceDay;
  readonly soc: Float64Array | null;
  readonly dcV: Float64Array | null;
  readonly mode: Float64Array | null;
}

function feedsOf(block: DayBlock, record: SiteRecord): UnitFeed[] {
  return record.units.flatMap(({ id }) => {
    const source = block.units.get(id);
    if (source === undefined) return [];
    const soc = columnOf(source, 'battery_soc_pct');
    return [{ id, source, soc, dcV: columnOf(source, 'dc_voltage_v'), mode: columnOf(source, 'mode') }];
  });
}

const at = (column: Float64Array | null, row: number): number => column?.[row] ?? Number.NaN;

/** Whether a unit saw the battery in all its readings of the day, so that nothing can begin or end in it. */
function sawAllDay({ soc }: UnitFeed): boolean {
  return soc !== null && !soc.some((value) => Number.isNaN(value));
}

/** Takes one reading of a unit: with a charge it sees the battery, without one it does not. */
function takeReading(sight: Sight, feed: UnitFeed, row: number, t: number): void {
  const socPct = at(feed.soc, row);
  const dcV = at(feed.dcV, row);
  sight.heardT = t;
  if (!Number.isNaN(dcV)) {
    sight.dcV = dcV;
    sight.dcT = t;
  }
  if (Number.isNaN(socPct)) {
    // A unit that is switched off says nothing about the battery.
    if (at(feed.mode, row) === MODE.off) return;
    sight.unseenSince ??= t;
    sight.unseenReadings += 1;
    return;
  }
  if (sight.lastSocT !== null && sight.unseenReadings > 0 && t - sight.lastSocT < HOUR_MS) {
    sight.gapSumMs += t - sight.lastSocT;
    sight.gaps += 1;
  }
  sight.unseenSince = null;
  sight.unseenReadings = 0;
  sight.lastSocPct = socPct;
  sight.lastSocT = t;
  if (!Number.isNaN(dcV)) sight.seenDcV = dcV;
}

function patienceMs(sight: Sight, record: SiteRecord): number {
  const usualMs = sight.gaps < GAPS_LEARNT ? 0 : sight.gapSumMs / sight.gaps;
  return Math.max(UNSEEN_MS, UNSEEN_READINGS * record.sample_interval_s * 1000, USUAL_GAPS * usualMs);
}

/** Since when a unit counts as not seeing the battery, or null: not before any unit of the site saw it. */
function unseenFrom(sight: Sight, work: Work): number | null {
  if (sight.unseenSince === null || work.firstSocT === null) return null;
  return Math.max(sight.unseenSince, work.firstSocT);
}

function voltageIs(sight: Sight, record: SiteRecord): 'there' | 'gone' | 'unknown' {
  if (sight.dcV === null || sight.dcT === null) return 'unknown';
  const usualV = sight.seenDcV ?? record.packs[0]?.nominal_voltage_v ?? null;
  // It did send the voltage, but not once since it lost sight of the battery.
  if (sight.unseenSince !== null && sight.dcT < sight.unseenSince) return 'gone';
  return usualV !== null && sight.dcV < VOLTAGE_COLLAPSED * usualV ? 'gone' : 'there';
}

/** Settings of a unit about the battery that differ from those of every other unit, or from the record. */
function oddSettings(id: string, work: Work): string[] {
  const own = work.settings[id] ?? {};
  const others = work.record.units.filter((unit) => unit.id !== id).map((unit) => work.settings[unit.id] ?? {});
  return Object.keys(own).filter((key) => {
    if (!key.startsWith('battery_') && key !== 'parallel_mode') return false;
    const expected = work.record.expected_settings[key];
    if (expected !== undefined) return settingKey(own[key]!) !== settingKey(expected);
    const known = others.flatMap((settings) => settings[key] ?? []);
    return known.length > 0 && known.every((value) => settingKey(value) !== settingKey(own[key]!));
  });
}

/** Since when all of these see nothing; those who were named before them had a time of their own. */
function earliestOnset(work: Work, blind: readonly { readonly id: string }[]): number {
  const unnamed = blind.filter(({ id }) => work.open[id] === undefined);
  return Math.min(...unnamed.flatMap(({ id }) => unseenFrom(work.sights[id]!, work) ?? []));
}

/** Raises for units that have not seen the battery for long enough; one finding for all where none sees it. */
function raise(work: Work, t: number): void {
  const { record } = work;
  const owner =
    record.battery_link?.unit ?? record.units.find((unit) => unit.role === 'lead')?.id ?? record.units[0]!.id;
  const heard = record.units.filter(({ id }) => {
    const heardT = work.sights[id]?.heardT ?? null;
    return heardT !== null && t - heardT <= freshMs(record);
  });
  const blind = heard.filter(({ id }) => unseenFrom(work.sights[id]!, work) !== null);
  const isNoneSeeing = blind.length === heard.length;
  const isAll = isNoneSeeing && heard.some(({ id }) => id === owner);
  // A gap in the readings of one unit does not make a second condition of the rest.
  if (isNoneSeeing && work.open[owner]?.byAll === true) return;
  for (const { id } of blind) {
    const sight = work.sights[id]!;
    const from = unseenFrom(sight, work)!;
    const isRipe = t - from >= patienceMs(sight, record) && sight.unseenReadings >= UNSEEN_READINGS;
    if (!isRipe || work.open[id] !== undefined) continue;
    const subject = isAll ? owner : id;
    if (work.open[subject] !== undefined) continue;
    const own = work.sights[subject]!;
    work.open[subject] = {
      subject,
      byAll: isAll && record.units.length > 1,
      isOwner: subject === owner,
      start: isAll ? earliestOnset(work, blind) : from,
      detectedAt: t,
      end: null,
      unseenBy: isAll ? blind.map((unit) => unit.id) : [id],
      seenBy: heard.filter((unit) => !blind.includes(unit)).map((unit) => unit.id),
      lastSocPct: own.lastSocPct,
      dcV: own.dcV,
      voltage: voltageIs(own, record),
      oddSettings: oddSettings(subject, work),
    };
  }
}

/** Ends what a unit's sight of the battery ends; those who are still blind begin their own time then. */
function endSeen(work: Work, id: string, t: number): void {
  const standing = work.open[id];
  if (standing === undefined) return;
  delete work.open[id];
  work.done.push({ ...standing, end: t });
  if (!standing.byAll) return;
  for (const other of standing.unseenBy) {
    const sight = work.sights[other];
    if (other === id || sight === undefined || sight.unseenSince === null) continue;
    sight.unseenSince = t;
    sight.unseenReadings = 0;
  }
}

function takeSettings(work: Work, block: DayBlock, until: number, from: number): number {
  let k = from;
  for (; k < block.settings.length && block.settings[k]!.t <= until; k++) {
    const { unit, key, value } = block.settings[k]!;
    const { [key]: _, ...others } = work.settings[unit] ?? {};
    work.settings = { ...work.settings, [unit]: value === null ? others : { ...others, [key]: value } };
  }
  return k;
}

function walk(work: Work, block: DayBlock, feeds: readonly UnitFeed[], from: readonly number[]): void {
  let settingsTaken = 0;
  walkInstants(
    feeds.map(({ source }) => source),
    from,
    (t, rows, moved) => {
      settingsTaken = takeSettings(work, block, t, settingsTaken);
      let isBlind = false;
      for (let k = 0; k < feeds.length; k++) {
        if (moved[k] === 0) continue;
        const { id } = feeds[k]!;
        const sight = work.sights[id]!;
        takeReading(sight, feeds[k]!, rows[k]!, t);
        if (sight.unseenReadings === 0) endSeen(work, id, t);
        else isBlind = true;
        if (sight.lastSocT === t) work.firstSocT ??= t;
      }
      if (isBlind) raise(work, t);
      return true;
    },
  );
  takeSettings(work, block, Number.POSITIVE_INFINITY, settingsTaken);
}

function fold(state: BatteryUnseenState, block: DayBlock, site: SiteHistory): BatteryUnseenState {
  const record = recordAt(site, block.day);
  const feeds = feedsOf(block, record);
  const sights = Object.fromEntries(record.units.map(({ id }) => [id, { ...(state.sights[id] ?? unheard()) }]));
  const named = new Set(record.units.map(({ id }) => id));
  const open = Object.fromEntries(Object.entries(state.open).filter(([id]) => named.has(id)));
  const retired = Object.values(state.open).filter(({ subject }) => !named.has(subject));
  const ended = retired.map((unseen) => ({ ...unseen, end: Math.max(unseen.detectedAt, record.validFrom ?? 0) }));
  const work: Work = {
    sights,
    firstSocT: state.firstSocT,
    settings: state.settings,
    open,
    done: [...state.done, ...ended],
    record,
  };
  const isPlain = feeds.every(sawAllDay) && Object.values(sights).every((sight) => sight.unseenReadings === 0);
  // On a day on which all see the battery only its last readings matter to what comes after.
  const from = feeds.map(({ source }) => (isPlain ? Math.max(0, source.tMs.length - 1) : 0));
  const firstT = Math.min(...feeds.map(({ source }) => source.tMs[0] ?? Number.POSITIVE_INFINITY));
  if (isPlain && Number.isFinite(firstT)) work.firstSocT ??= firstT;
  walk(work, block, feeds, from);
  const { firstSocT, settings, done } = work;
  return { sights: work.sights, firstSocT, settings, open: work.open, done };
}

function findingOf(unseen: Unseen, site: string): Finding {
  return {
    site,
    kind: 'battery_unseen',
    subject: unseen.subject,
    start: epochMs(unseen.start),
    detectedAt: epochMs(unseen.detectedAt),
    end: unseen.end === null ? null : epochMs(unseen.end),
    severity: 'soon',
    measure: 'state of charge seen by the unit',
    value: null,
    baseline: unseen.lastSocPct,
    limit: null,
    causes: unseenCauses(unseen),
    evidence: {
      unseen_by: unseen.unseenBy,
      seen_by: unseen.seenBy,
      dc_voltage_v: unseen.dcV,
      dc_voltage: unseen.voltage,
      settings_that_differ: unseen.oddSettings,
    },
  };
}

export const batteryUnseen: Analyzer<BatteryUnseenState> = {
  name: 'battery_unseen',
  version: 1,
  begin: () => ({ sights: {}, firstSocT: null, settings: {}, open: {}, done: [] }),
  fold,
  answer(state, site) {
    const all = [...state.done, ...Object.values(state.open)].sort(
      (a, b) => a.start - b.start || (a.subject < b.subject ? -1 : 1),
    );
    return { findings: all.map((unseen) => findingOf(unseen, site.site)), cannotTell: [] };
  },
};
