/**
 * The conductor: which days of a site are dirty, from which kept state the folds go on, what they say in the end.
 * Nothing here judges.
 */
import { upperMedianNow } from '../alignment/now.ts';
import type { DayHead } from '../alignment/set-aside.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory } from '../site/record.ts';
import type { Analysed, DerivedStore, SiteAnswer } from '../store/derived-store.ts';
import type { ReadingStore, StoredSource } from '../store/reading-store.ts';
import { DAY_MS, dayOf, type EpochMs, T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';
import { answerOf, beginStates, foldDay, PROGRAM, type States } from './fold-analyzers.ts';
import { type LineAt, linesAside } from './lines-aside.ts';
import { onceTakenIn } from './once-taken-in.ts';
import { readDay } from './read-day.ts';
import { setAsideOf } from './set-aside-of.ts';

/** States of the newest days are kept, so that a late hour costs a day or two … */
const KEPT_NEWEST_DAYS = 3;
/** … and one a week, so that a late day costs a week at most. */
const KEPT_EVERY_DAYS = 7;

export interface AnalyseOptions {
  /** Analyse as if only readings up to it had arrived; null for all. */
  readonly asOf: number | null;
  /** Whether this process holds the worker lock and may write derived tables. */
  readonly mayWrite: boolean;
}

interface SiteView {
  readonly sources: readonly StoredSource[];
  readonly heads: readonly DayHead[];
  readonly history: SiteHistory;
  readonly recordSeq: number;
  readonly change: number;
  readonly now: number;
  readonly setAside: readonly AsideAt[];
}

/** A reading that is set aside, or a line of settings or alarms. */
interface AsideAt extends LineAt {
  readonly isLine?: true;
}

/**
 * Analyses a site as far as anything is new, and says what it found.
 *
 * @returns null where no record names the site: its lines are stored, and judged once it is recorded
 */
export function analyseSite(
  store: ReadingStore,
  derived: DerivedStore,
  site: string,
  options: AnalyseOptions,
): SiteAnswer | null {
  const view = viewSite(store, site, options.asOf);
  if (view === null) return null;
  const kept = derived.analysed(site);
  const isUsable = kept !== null && kept.program === PROGRAM && kept.recordSeq === view.recordSeq;
  const target: Analysed = {
    change: view.change,
    recordSeq: view.recordSeq,
    program: PROGRAM,
    asOf: view.now,
    setAside: JSON.stringify(view.setAside),
  };
  if (options.asOf === null && isUsable && isSame(kept, target, store, site)) return derived.answer(site);

  const firstDirty = isUsable ? firstDirtyDay(store, site, kept, view, options.asOf) : null;
  const from = isUsable ? derived.stateBefore(site, firstDirty ?? T_MAX_MS) : null;
  const fold = foldFrom(store, view, from, options.asOf);
  const told = answerOf(fold.states, view.history, view.now as EpochMs);
  const answer = { ...told, findings: onceTakenIn(store, view, told.findings) };
  if (options.mayWrite && options.asOf === null) {
    const newest = fold.newestDay ?? T_MIN_MS;
    const keep = (dayMs: number): boolean =>
      dayMs > newest - KEPT_NEWEST_DAYS * DAY_MS || (dayMs / DAY_MS) % KEPT_EVERY_DAYS === 0;
    const fromDayMs = from === null ? T_MIN_MS : from.day + DAY_MS;
    derived.put(site, { fromDayMs, states: fold.byDay, keep }, answer, target);
  }
  return answer;
}

function isSame(kept: Analysed, target: Analysed, store: ReadingStore, site: string): boolean {
  return (
    kept.asOf === target.asOf && store.firstChangedDay(site, kept.change) === null && kept.setAside === target.setAside
  );
}

/** The first day whose kept state can't be gone on from; null where all can. */
function firstDirtyDay(
  store: ReadingStore,
  site: string,
  kept: Analysed,
  view: SiteView,
  asOf: number | null,
): number | null {
  const before = JSON.parse(kept.setAside) as SiteView['setAside'];
  const name = ({ source, t, isLine }: AsideAt): string => `${source} ${t} ${isLine === true}`;
  const was = new Set(before.map(name));
  const is = new Set(view.setAside.map(name));
  const differing = [...before.filter((r) => !is.has(name(r))), ...view.setAside.filter((r) => !was.has(name(r)))];
  const days = differing.map(({ t }) => dayOf(t) as number);
  const changed = store.firstChangedDay(site, kept.change);
  if (changed !== null) days.push(changed);
  if (asOf !== null) days.push(dayOf(asOf));
  return days.length === 0 ? null : Math.min(...days);
}

function foldFrom(
  store: ReadingStore,
  view: SiteView,
  from: { readonly day: number; readonly states: string } | null,
  asOf: number | null,
): { states: States; byDay: Map<number, string>; newestDay: number | null } {
  let states = from === null ? beginStates(view.history) : (JSON.parse(from.states) as States);
  const byDay = new Map<number, string>();
  const setAside = new Map<number, Set<number>>();
  const lines = new Map<number, Set<number>>();
  for (const { source, t, isLine } of view.setAside) {
    const bySource = isLine === true ? lines : setAside;
    bySource.set(source, (bySource.get(source) ?? new Set()).add(t));
  }
  let newestDay = from?.day ?? null;
  for (const day of store.siteDays(view.history.site)) {
    if ((from !== null && day <= from.day) || (asOf !== null && day > asOf)) continue;
    const block = readDay(store, view.sources, view.history, day, { upTo: asOf, setAside, lines });
    if (block === null) continue;
    states = foldDay(states, block, view.history);
    // The text is what is kept, so the next fold starts from the text: a state that does not survive it fails at once.
    const text = JSON.stringify(states);
    states = JSON.parse(text) as States;
    byDay.set(day, text);
    newestDay = day;
  }
  return { states, byDay, newestDay };
}

function viewSite(store: ReadingStore, site: string, asOf: number | null): SiteView | null {
  const recorded = store.siteHistory(site);
  if (recorded === null) return null;
  const change = store.change();
  const sources = store.sources(site);
  const aside = setAsideOf(store, sources, asOf);
  const { heads } = aside;
  const lines = linesAside(store, site, sources, aside, asOf).map((line) => ({ ...line, isLine: true as const }));
  const { history, seq } = recorded;
  return {
    sources,
    heads,
    history,
    recordSeq: seq,
    change,
    setAside: [...aside.setAside, ...lines],
    now: nowOf(store, history, sources, heads, aside.setAside, asOf),
  };
}

/** formats.md, section 4: heartbeats, or the upper median where readings are newer; capped at asOf. */
function nowOf(
  store: ReadingStore,
  history: SiteHistory,
  sources: readonly StoredSource[],
  heads: readonly DayHead[],
  setAside: SiteView['setAside'],
  asOf: number | null,
): number {
  const aside = new Set(setAside.map(({ source, t }) => `${source} ${t}`));
  const newest = new Map<number, number>();
  for (const { source, tLast, readings } of heads) {
    if (readings === 1 && aside.has(`${source} ${tLast}`)) continue;
    newest.set(source, Math.max(newest.get(source) ?? Number.NEGATIVE_INFINITY, tLast));
  }
  const byName = new Map(sources.map(({ kind, id, source }) => [`${kind}/${id}`, newest.get(source) ?? null]));
  const record = recordAt(history, Math.max(T_MIN_MS, ...newest.values()));
  const median = upperMedianNow([
    ...record.units.map(({ id }) => byName.get(`unit/${id}`) ?? null),
    ...record.packs.map(({ id }) => byName.get(`pack/${id}`) ?? null),
  ]);
  const cap = asOf ?? T_MAX_MS;
  return Math.min(cap, Math.max(store.newestHeartbeat(cap) ?? T_MIN_MS, median ?? T_MIN_MS));
}
