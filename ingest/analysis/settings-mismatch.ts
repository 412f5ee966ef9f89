/**
 * A unit set up otherwise than the others, or than the record says. Settings are events: they are compared
 * whenever one changes, and when the record does. Units are set up one after the other, so a difference
 * counts once it has stood for a while; it began with the change all the same.
 */
import type { DayBlock, SettingChange } from '../alignment/day-block.ts';
import { firstRowAt } from '../alignment/site-ticks.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import { OWN_SETTINGS, SHARED_SETTINGS } from '../vocabulary/settings.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../vocabulary/time.ts';
import { type Mismatch, mismatchFindings } from './_mismatch-findings.ts';
import { areEqual, type HeldSettings, type Odd, oddAmong, oddByRecord, oddOwn } from './_odd-settings.ts';
import { settingKey } from './_setting-values.ts';
import type { Analyzer } from './analyzer.ts';

const BASELINE_MS = 7 * DAY_MS;
/** Setting up the other units takes about this long. Our own choice. */
const HOLD_MS = 15 * MINUTE_MS;
/** A firmware that differs for under an hour is an update under way (formats.md, section 4). */
const FIRMWARE_HOLD_MS = HOUR_MS;
/** A document is dated by the day, the work is done some time in it: until then the record may run ahead. */
const DOCUMENT_GRACE_MS = DAY_MS;

/** A difference that has not stood long enough to count. */
interface Waiting {
  readonly key: string;
  readonly subject: string | null;
  readonly candidates: readonly string[];
  readonly since: number;
}

export interface SettingsMismatchState {
  readonly settings: HeldSettings;
  /** Keys seen by any unit. */
  readonly keys: readonly string[];
  /** First reading or setting of the site. */
  readonly firstT: number | null;
  /** Of the keys that need not be shared: whether they differed in the baseline. */
  readonly differedInBaseline: Readonly<Record<string, boolean>>;
  readonly waiting: readonly Waiting[];
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
  waiting: Waiting[];
  open: Mismatch[];
  done: Mismatch[];
  readonly record: SiteRecord;
  readonly isFirstDocument: boolean;
  /** The document that held before, or null. */
  readonly before: SiteRecord | null;
}

const isShared = (key: string): boolean => SHARED_SETTINGS.some((id) => id === key);
const isOwn = (key: string): key is (typeof OWN_SETTINGS)[number] => OWN_SETTINGS.some((id) => id === key);
/** How long a difference has to stand. */
const holdMs = (key: string): number => (key === 'firmware' ? FIRMWARE_HOLD_MS : HOLD_MS);

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
  // What the document before already asked for needs no time to be put into effect.
  const isAskedAnew = expected !== work.before?.expected_settings[key];
  if (expected !== undefined)
    return isAskedAnew && isInGrace(work, t) ? [] : oddByRecord(key, expected, record, settings);
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

type Who = Pick<Odd, 'subject' | 'candidates'>;

function isSameOdd(one: Who & { readonly key: string }, key: string, odd: Who): boolean {
  return one.key === key && one.subject === odd.subject && String(one.candidates) === String(odd.candidates);
}

/** `u1 lithium`, a unit each. */
function valuesOf(key: string, work: Work): string[] {
  return work.record.units.map(({ id }) => `${id} ${String(work.settings[id]?.[key]?.value ?? 'unknown')}`);
}

/** When a difference began: with the change, or earlier where it only became clear now which unit is the odd one. */
function sinceOf(key: string, one: Odd, waiting: readonly Waiting[], startT: number): number {
  const same = waiting.find((other) => isSameOdd(other, key, one));
  const untold = waiting.find(({ subject, candidates }) => subject === null && candidates.includes(one.subject ?? ''));
  return (same ?? untold)?.since ?? startT;
}

/** Compares one key at `seenT`: ends what is level again, lets wait what differs from `startT` on, opens what is due. */
function compare(key: string, work: Work, startT: number, seenT: number): void {
  const odd = oddOf(key, work, seenT);
  const standing = work.open.filter((mismatch) => mismatch.key === key);
  for (const mismatch of standing) {
    if (odd.some((one) => isSameOdd(mismatch, key, one))) continue;
    work.open = work.open.filter((other) => other !== mismatch);
    work.done.push({ ...mismatch, end: seenT });
  }
  const before = work.waiting.filter((other) => other.key === key);
  work.waiting = work.waiting.filter((other) => other.key !== key);
  for (const one of odd) {
    if (standing.some((mismatch) => isSameOdd(mismatch, key, one))) continue;
    const { subject, candidates } = one;
    const since = sinceOf(key, one, before, startT);
    if (seenT < since + holdMs(key)) work.waiting.push({ key, subject, candidates, since });
    else work.open.push({ ...one, key, start: since, detectedAt: seenT, end: null, values: valuesOf(key, work) });
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

/** Opens what has been waiting and is due before `until`, each at the first reading that shows it still stands. */
function raiseDue(work: Work, block: DayBlock, until: number): void {
  const due = work.waiting.map(({ key, since }) => ({ key, since, t: firstSeenAt(block, since + holdMs(key)) }));
  for (const { key, since, t } of due.sort((a, b) => a.t - b.t)) if (t < until) compare(key, work, since, t);
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
    waiting: [...state.waiting],
    open: [...state.open],
    done: [...state.done],
    record,
    isFirstDocument: record === site.documents[0],
    before: site.documents[site.documents.indexOf(record) - 1] ?? null,
  };
  // A new document is compared when it comes, and again once it must have been put into effect.
  const { validFrom } = record;
  const isSettled = state.documentSettled && validFrom === state.documentFrom;
  const documentSettled = !isInGrace(work, firstT);
  if (validFrom !== null && (validFrom !== state.documentFrom || (documentSettled && !isSettled))) {
    for (const key of work.keys) compare(key, work, validFrom, firstT);
  }
  takeDay(work, block);
  const { settings, keys, differedInBaseline, waiting, open, done } = work;
  return {
    settings,
    keys,
    firstT: work.firstT,
    differedInBaseline,
    waiting,
    documentFrom: validFrom,
    documentSettled,
    open,
    done,
  };
}

export const settingsMismatch: Analyzer<SettingsMismatchState> = {
  name: 'settings_mismatch',
  version: 2,
  begin: () => ({
    settings: {},
    keys: [],
    firstT: null,
    differedInBaseline: {},
    waiting: [],
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
