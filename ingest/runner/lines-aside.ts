/**
 * Settings and alarms that are set aside: alone in time they are more likely a wrong clock than a change, as readings are
 * (formats.md, section 3).
 */
import type { DayHead } from '../alignment/set-aside.ts';
import type { ReadingStore, StoredSource } from '../store/reading-store.ts';
import { DAY_MS, dayOf, HOUR_MS } from '../vocabulary/time.ts';

const ALONE_MS = 48 * HOUR_MS;

/** The instant of one line of settings or alarms. */
export interface LineAt {
  readonly source: number;
  readonly t: number;
}

/** A reading of the site, and another line of it, keep a line company; a reading that is itself set aside does not. */
export function linesAside(
  store: ReadingStore,
  site: string,
  sources: readonly StoredSource[],
  { heads, setAside }: { readonly heads: readonly DayHead[]; readonly setAside: readonly LineAt[] },
  asOf: number | null,
): LineAt[] {
  const lone = new Set(setAside.map(({ source, t }) => `${source} ${dayOf(t)}`));
  const company = heads.filter(({ source, day, readings }) => readings > 1 || !lone.has(`${source} ${day}`));
  const spokenOn = new Set(company.map(({ day }) => day));
  const to = asOf ?? Number.POSITIVE_INFINITY;
  // On a day with a reading every line has company.
  const days = store.siteDays(site).filter((day) => day <= to && !spokenOn.has(day));
  if (days.length === 0) return [];
  const isNear = (t: number): boolean =>
    company.some(({ tFirst, tLast }) => tFirst - t <= ALONE_MS && t - tLast <= ALONE_MS);
  return days
    .flatMap((day) => linesIn(store, sources, day, Math.min(day + DAY_MS, to + 1)))
    .filter((line) => {
      if (isNear(line.t)) return false;
      const around = linesIn(store, sources, line.t - ALONE_MS, Math.min(line.t + ALONE_MS, to) + 1);
      return !around.some((other) => other.source !== line.source || other.t !== line.t);
    })
    .sort((a, b) => a.t - b.t || a.source - b.source);
}

/** The instants in [from, to) at which a source sent settings or alarms, each once. */
export function linesIn(store: ReadingStore, sources: readonly StoredSource[], from: number, to: number): LineAt[] {
  return sources.flatMap(({ source }) => {
    const times = [...store.settings(source, from, to), ...store.alarms(source, from, to)].map(({ t }) => t);
    return [...new Set(times)].sort((a, b) => a - b).map((t) => ({ source, t }));
  });
}
