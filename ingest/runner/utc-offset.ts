/** A site's own time for the analysis, which knows no time zones. */
import { IANAZone } from 'luxon';
import { MINUTE_MS } from '../vocabulary/time.ts';

/** How far a zone is ahead of UTC at an instant; 0 for a zone that nobody knows: the record was checked at the door. */
export function utcOffsetMs(timezone: string, t: number): number {
  const minutes = IANAZone.create(timezone).offset(t);
  return Number.isFinite(minutes) ? minutes * MINUTE_MS : 0;
}
