/** What needs doing first: the order of rows, and the state that a row is marked with. */
import { SEVERITIES } from '../../ingest/vocabulary/finding.ts';
import type { SayableFinding } from '../contract/finding.ts';
import type { FleetRow } from '../contract/read-fleet.ts';
import type { SiteState } from './words.ts';

const STATE_ORDER: readonly SiteState[] = ['urgent', 'soon', 'plan', 'prove', 'level'];

/** The mark of a site: its worst open finding, else whether it is proven yet. */
export function siteState({ worst, deviation }: Pick<FleetRow, 'worst' | 'deviation'>): SiteState {
  if (worst !== null && worst.severity !== 'info') return worst.severity;
  return deviation === null ? 'prove' : 'level';
}

/** Whether somebody must act before the next grid loss. */
export const isRequest = (state: SiteState): boolean => state === 'urgent' || state === 'soon';

const ratioOf = ({ deviation }: FleetRow): number =>
  deviation === null ? 0 : Math.abs((deviation.now - deviation.then) / deviation.limit);

/** Urgent, soon, plan, to prove, level; inside each the one that is furthest off first, then by name. */
export function compareRows(a: FleetRow, b: FleetRow): number {
  return (
    STATE_ORDER.indexOf(siteState(a)) - STATE_ORDER.indexOf(siteState(b)) ||
    (siteState(a) === 'level' ? 0 : ratioOf(b) - ratioOf(a)) ||
    a.name.localeCompare(b.name)
  );
}

/** Open before ended; then by severity; then the newest detection first. */
export function compareFindings(a: SayableFinding, b: SayableFinding): number {
  return (
    Number(a.end !== null) - Number(b.end !== null) ||
    SEVERITIES.indexOf(a.severity) - SEVERITIES.indexOf(b.severity) ||
    b.detectedAt - a.detectedAt
  );
}
