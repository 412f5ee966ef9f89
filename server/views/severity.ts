/** What needs doing first: the order of rows, and the state that a row is marked with. */
import { SEVERITIES } from '../../ingest/vocabulary/finding.ts';
import type { SayableFinding } from '../contract/finding.ts';
import type { FleetRow } from '../contract/read-fleet.ts';
import { OLD_FIGURE_MS } from './beam.ts';
import { nameOrder } from './figures.ts';
import type { Saying } from './saying.ts';
import type { SiteState } from './words.ts';

/** What needs doing first. */
export const SITE_STATES: readonly SiteState[] = ['urgent', 'soon', 'plan', 'watch', 'prove', 'unclear', 'level'];

/**
 * The mark of a site: its worst open finding; else whether it is proven, whether anything can be told of it now, and
 * whether a figure stands beyond its limit without having done so for long enough to be a finding.
 */
export function siteState(row: Pick<FleetRow, 'worst' | 'deviation' | 'isProven' | 'heardAt'>, now: number): SiteState {
  if (row.worst !== null && row.worst.severity !== 'info') return row.worst.severity;
  if (!row.isProven) return 'prove';
  if (row.deviation === null || row.heardAt === null || now - row.heardAt > OLD_FIGURE_MS) return 'unclear';
  return ratioOf(row) > 1 ? 'watch' : 'level';
}

/** Whether somebody must act before the next grid loss. */
export const isRequest = (state: SiteState): boolean => state === 'urgent' || state === 'soon';

const ratioOf = ({ deviation }: Pick<FleetRow, 'deviation'>): number =>
  deviation === null ? 0 : Math.abs((deviation.now - deviation.then) / deviation.limit);

/** By state; inside each the one that is furthest off first, then by name, 'Site 2' before 'Site 10'. */
export function compareRows({ words, now }: Pick<Saying, 'words' | 'now'>): (a: FleetRow, b: FleetRow) => number {
  const names = nameOrder(words.locale);
  const placeOf = (row: FleetRow): number => SITE_STATES.indexOf(siteState(row, now));
  const level = SITE_STATES.indexOf('level');
  return (a, b) => {
    const [own, other] = [placeOf(a), placeOf(b)];
    return own - other || (own === level ? 0 : ratioOf(b) - ratioOf(a)) || names(a.name, b.name);
  };
}

/** Open before ended; then by severity; then the newest detection first. */
export function compareFindings(a: SayableFinding, b: SayableFinding): number {
  return (
    Number(a.end !== null) - Number(b.end !== null) ||
    SEVERITIES.indexOf(a.severity) - SEVERITIES.indexOf(b.severity) ||
    b.detectedAt - a.detectedAt
  );
}
