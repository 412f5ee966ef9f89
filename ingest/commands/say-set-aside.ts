/** Names the readings whose time can't be right: those that are set aside, and those that lie in early 1970. */
import { setAsideOf } from '../runner/set-aside-of.ts';
import type { ReadingStore, StoredSource } from '../store/reading-store.ts';
import { formatTime } from '../vocabulary/time.ts';

/** More lines say nothing new. */
const MOST_LINES = 20;
/** 2000 to 2100 as epoch seconds: read as milliseconds they are days of January and February 1970. */
const SECONDS_FROM = Date.UTC(2000, 0, 1) / 1000;
const SECONDS_TO = Date.UTC(2100, 0, 1) / 1000;

const isSeconds = (t: number): boolean => t >= SECONDS_FROM && t < SECONDS_TO;

/** One line each for the readings that are set aside, at most 20; then one for each source that gives seconds throughout. */
export function saySetAside(store: ReadingStore, sites: readonly string[]): string[] {
  const alone: string[] = [];
  const early: string[] = [];
  for (const site of sites) {
    const sources = store.sources(site);
    const { heads, setAside } = setAsideOf(store, sources, null);
    const nameOf = new Map(sources.map((source) => [source.source, sayName(source)]));
    const isAside = new Set(setAside.map(({ source, t }) => `${source} ${t}`));
    for (const { source, t } of setAside) {
      const why = isSeconds(t)
        ? 't looks like epoch seconds: give milliseconds, or RFC 3339'
        : 'check the clock of the gateway';
      alone.push(
        `${nameOf.get(source)}, ${formatTime(t)}: set aside: no other reading of the site lies within 48 h; ${why}`,
      );
    }
    for (const { source } of sources) {
      const own = heads.filter(
        (h) => h.source === source && isSeconds(h.tFirst) && !isAside.has(`${source} ${h.tFirst}`),
      );
      if (own.length > 0) early.push(`${nameOf.get(source)}, ${sayEarly(own)}`);
    }
  }
  const more = alone.length - MOST_LINES;
  return [
    ...alone.slice(0, MOST_LINES),
    ...(more > 0 ? [`… and ${more} more readings that are set aside`] : []),
    ...early,
  ];
}

const sayName = ({ site, kind, id }: StoredSource): string =>
  kind === 'bank' ? `${site}, bank` : `${site}, ${kind} ${id}`;

function sayEarly(
  heads: readonly { readonly readings: number; readonly tFirst: number; readonly tLast: number }[],
): string {
  const count = heads.reduce((sum, { readings }) => sum + readings, 0);
  const from = formatTime(heads[0]!.tFirst);
  const to = formatTime(heads.at(-1)!.tLast);
  return `${from} to ${to}: ${count} readings in 1970; t looks like epoch seconds: give milliseconds, or RFC 3339`;
}
