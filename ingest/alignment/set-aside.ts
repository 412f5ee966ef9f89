/** Which readings are set aside: alone in time, they are more likely a wrong clock than a measurement (formats.md, section 3). */
import { DAY_MS } from '../vocabulary/time.ts';

/** A reading is set aside while no other reading of its site lies this close before or after it. */
const ALONE_MS = 48 * 3_600_000;

/** The readings of one source on one day, by their count and ends. */
export interface DayHead {
  readonly source: number;
  readonly day: number;
  readonly readings: number;
  readonly tFirst: number;
  readonly tLast: number;
}

/**
 * The set-aside readings of a site.
 *
 * Only a day whose site has a single reading can hold one: two readings of one day are less than 48 h apart.
 *
 * @param heads all blocks of all sources of the site, in any order; times in epoch ms
 * @returns sorted by time, then source
 */
export function setAsideReadings(heads: readonly DayHead[]): { readonly source: number; readonly t: number }[] {
  const byDay = new Map<number, { readings: number; tFirst: number; tLast: number; source: number }>();
  for (const { source, day, readings, tFirst, tLast } of heads) {
    const site = byDay.get(day);
    if (site === undefined) byDay.set(day, { readings, tFirst, tLast, source });
    else {
      site.readings += readings;
      site.tFirst = Math.min(site.tFirst, tFirst);
      site.tLast = Math.max(site.tLast, tLast);
    }
  }
  const alone: { source: number; t: number }[] = [];
  for (const [day, { readings, tFirst: t, source }] of byDay) {
    if (readings !== 1) continue;
    const isNear = [1, 2].some((days) => {
      const before = byDay.get(day - days * DAY_MS);
      const after = byDay.get(day + days * DAY_MS);
      return (
        (before !== undefined && t - before.tLast <= ALONE_MS) || (after !== undefined && after.tFirst - t <= ALONE_MS)
      );
    });
    if (!isNear) alone.push({ source, t });
  }
  return alone.sort((a, b) => a.t - b.t || a.source - b.source);
}

/**
 * The blocks whose first reading was set aside as it came: 48 h lie between it and whatever the site sent before, and
 * no other reading has its time.
 *
 * @param heads all blocks of all sources of the site, in any order; times in epoch ms
 */
export function loneFirsts(heads: readonly DayHead[]): DayHead[] {
  const inOrder = [...heads].sort((a, b) => a.tFirst - b.tFirst);
  let newest = Number.NEGATIVE_INFINITY;
  return inOrder.filter((head, k) => {
    const isLone = head.tFirst - newest > ALONE_MS && inOrder[k + 1]?.tFirst !== head.tFirst;
    newest = Math.max(newest, head.tLast);
    return isLone;
  });
}
