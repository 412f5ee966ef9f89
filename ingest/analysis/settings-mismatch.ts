/**
 * A unit set up otherwise than the others, or than the record says. Settings are events: they are compared
 * whenever one changes, and when the record does. A firmware that differs for under an hour is an update
 * under way.
 */
import type { DayBlock, SettingChange } from '../alignment/day-block.ts';
import { firstRowAt } from '../alignment/site-ticks.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import { OWN_SETTINGS, SHARED_SETTINGS } from '../vocabulary/settings.ts';
import { DAY_MS, HOUR_MS } from '../vocabulary/time.ts';
import { type Mismatch, mismatchFindings } from './_mismatch-findings.ts';
import { areEqual, type HeldSettings, type Odd, oddAmong, oddByRecord, oddOwn } from './_odd-settings.ts';
import { settingKey } from './_setting-values.ts';
import type { Analyzer } from './analyzer.ts';

const BASELINE_MS = 7 * DAY_MS;
/** A document is dated by the day, the work is done some time in it: until then the record may run ahead. */
const DOCUMENT_GRACE_MS = DAY_MS;

export interface SettingsMismatchState {
  readonly settings: HeldSettings;
  /** Keys seen by any unit. */
  readonly keys: readonly string[];
  /** First reading or setting of the site. */
  readonly firstT: number | null;
  /** Of the keys that need not be shared: whether they differed in the baseline. */
  readonly differedInBaseline: Readonly<Record<string, boolean>>;
  /** Since when a key differs, where it does. */
  readonly differsSince: Readonly<Record<string, number>>;
  /** The document that was compared with. */
  readonly documentFrom: number | null;
  /** Whether it must have been put into effect. */
  readonly documentSettled: boolean;
  readonly open: readonly Mismatch[];
  readonly done: readonly Mismatch[];
}

interface Work {
  settings: HeldSettings;
  keys: string[];
  firstT: number;
  differedInBaseline: Record<string, boolean>;
  differsSince: Record<string, number>;
  open: Mismatch[];
  done: Mismatch[];
  readonly record: SiteRecord;
  readonly isFirstDocument: boolean;
}

const isShared = (key: string): boolean => SHARED_SETTINGS.some((id) => id === key);
const isOwn = (key: string): key is (typeof OWN_SETTINGS)[number] => OWN_SETTINGS.some((id) => id === key);
/** Units are set up and updated one after the other: a difference counts once it has stood this long (firmware: the contract's hour). */
const holdMs = (key: string): number => (key === 'firmware' ? HOUR_MS : 15 * MINUTE_MS);

function baselineOf(work: Work): { from: number; to: number } {
  const from = work.record.commissioned ?? work.firstT;
  return { from, to: from + BASELINE_MS };
}

/** Whether the record's new document may not have been put into effect yet. */
function isInGrace({ record, isFirstDocument }: Work, t: number): boolean {
  return !isFirstDocument && record.validFrom !== null && t < record.validFrom + DOCUMENT_GRACE_MS;
}

function oddOf(key: string, work: Work, t: number): Odd[] {
  const { record, settings } = work;
  if (isOwn(key)) return isInGrace(work, t) ? [] : oddOwn(key, record, settings);
  const expected = record.expected_settings[key];
  if (expected !== undefined) return isInGrace(work, t) ? [] : oddByRecord(key, expected, record, settings);
  const isLearnt = t >= baselineOf(work).to && work.differedInBaseline[key] === false;
  return isShared(key) || isLearnt ? oddAmong(key, record, settings) : [];
}

function noteBaseline(key: string, work: Work, t: number): void {
  if (isShared(key) || isOwn(key)) return;
  const equal = areEqual(key, work.record, work.settings);
  const { from, to } = baselineOf(work);
  if (equal === null || t >= to) return;
  work.differedInBaseline[key] = t < from ? !equal : (work.differedInBaseline[key] ?? false) || !equal;
}

function apply(work: Work, { unit, t, key, value }: SettingChange): void {
  const own = work.settings[unit] ?? {};
  const { [key]: before, ...others } = own;
  if (!work.keys.includes(key)) work.keys.push(key);
  if (value === null) {
    work.settings = { ...work.settings, [unit]: others };
    return;
  }
  const isSame = before !== undefined && settingKey(before.value) === settingKey(value);
  const changedT = isSame ? before.changedT : before === undefined ? null : t;
  work.settings = { ...work.settings, [unit]: { ...others, [key]: { value, changedT } } };
}

function isSameOdd(mismatch: Mismatch, key: string, odd: Odd): boolean {
  return (
    mismatch.key === key && mismatch.subject === odd.subject && String(mismatch.candidates) === String(odd.candidates)
  );
}

/** `u1 lithium`, a unit each. */
function valuesOf(key: string, work: Work): string[] {
  return work.record.units.map(({ id }) => `${id} ${String(work.settings[id]?.[key]?.value ?? 'unknown')}`);
}

/** Compares one key at `seenT`: ends what is level again, opens what differs, from `startT` on. */
function compare(key: string, work: Work, startT: number, seenT: number): void {
  const odd = oddOf(key, work, seenT);
  const standing = work.open.filter((mismatch) => mismatch.key === key);
  for (const mismatch of standing) {
    if (odd.some((one) => isSameOdd(mismatch, key, one))) continue;
    work.open = work.open.filter((other) => other !== mismatch);
    work.done.push({ ...mismatch, end: seenT });
  }
  if (odd.length === 0) {
    delete work.differsSince[key];
    return;
  }
  const since = work.differsSince[key] ?? startT;
  work.differsSince[key] = since;
  if (seenT < since + holdMs(key)) return;
  for (const one of odd) {
    if (standing.some((mismatch) => isSameOdd(mismatch, key, one))) continue;
    const start = holdMs(key) > 0 ? since : startT;
    work.open.push({ ...one, key, start, detectedAt: seenT, end: null, values: valuesOf(key, work) });
  }
}

/** The first reading of any source, or setting, of the day at or after t; Infinity where there is none. */
function firstSeenAt(block: DayBlock, t: number): number {
  const sources = [...block.units.values(), ...block.packs.values(), ...block.meters.values()];
  if (block.bank !== null) sources.push(block.bank);
  const times = sources.map(({ tMs }) => tMs[firstRowAt(tMs, t)] ?? Number.POSITIVE_INFINITY);
  const setting = block.settings.find((change) => change.t >= t)?.t ?? Number.POSITIVE_INFINITY;
  return Math.min(setting, ...times);
}

/** What has been waiting (firmware) and is due before `until`. */
function raiseDue(work: Work, block: DayBlock, until: number): void {
  for (const [key, since] of Object.entries(work.differsSince)) {
    if (holdMs(key) === 0) continue;
    const t = firstSeenAt(block, since + holdMs(key));
    if (t < until) compare(key, work, since, t);
  }
}

function takeDay(work: Work, block: DayBlock): void {
  const changes = block.settings;
  for (let k = 0; k < changes.length; ) {
    const t = changes[k]!.t;
    raiseDue(work, block, t);
    const keys = new Set<string>();
    // All that came at one instant is compared together: a site set up anew is no mismatch.
    for (; k < changes.length && changes[k]!.t === t; k++) {
      apply(work, changes[k]!);
      keys.add(changes[k]!.key);
    }
    for (const key of keys) {
      noteBaseline(key, work, t);
      compare(key, work, t, t);
    }
  }
  raiseDue(work, block, Number.POSITIVE_INFINITY);
}

function fold(state: SettingsMismatchState, block: DayBlock, site: SiteHistory): SettingsMismatchState {
  const record = recordAt(site, block.day);
  const firstT = firstSeenAt(block, block.day);
  if (!Number.isFinite(firstT)) return state;
  const work: Work = {
    settings: state.settings,
    keys: [...state.keys],
    firstT: state.firstT ?? firstT,
    differedInBaseline: { ...state.differedInBaseline },
    differsSince: { ...state.differsSince },
    open: [...state.open],
    done: [...state.done],
    record,
    isFirstDocument: record === site.documents[0],
  };
  // A new document is compared when it comes, and again once it must have been put into effect.
  const { validFrom } = record;
  const isSettled = state.documentSettled && validFrom === state.documentFrom;
  const documentSettled = !isInGrace(work, firstT);
  if (validFrom !== null && (validFrom !== state.documentFrom || (documentSettled && !isSettled))) {
    for (const key of work.keys) compare(key, work, validFrom, firstT);
  }
  takeDay(work, block);
  const { settings, keys, differedInBaseline, differsSince, open, done } = work;
  return {
    settings,
    keys,
    firstT: work.firstT,
    differedInBaseline,
    differsSince,
    documentFrom: validFrom,
    documentSettled,
    open,
    done,
  };
}

export const settingsMismatch: Analyzer<SettingsMismatchState> = {
  name: 'settings_mismatch',
  version: 1,
  begin: () => ({
    settings: {},
    keys: [],
    firstT: null,
    differedInBaseline: {},
    differsSince: {},
    documentFrom: null,
    documentSettled: false,
    open: [],
    done: [],
  }),
  fold,
  answer: (state, site) => ({
    findings: mismatchFindings([...state.done, ...state.open], site.site),
    cannotTell: [],
  }),
};
