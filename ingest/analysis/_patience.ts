/** How long a value stays current, a source may be quiet, a gap may be bridged: all from the sample interval. */
import type { SiteRecord } from '../site/record.ts';
import { MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';

/** A reading speaks for its source for this long: three samples, because units are not sampled together. */
export function freshMs(record: SiteRecord): number {
  return Math.max(3 * record.sample_interval_s * SECOND_MS, MINUTE_MS);
}

/** Charge moves slowly and is often polled slowly. */
export function chargeFreshMs(record: SiteRecord): number {
  return Math.max(6 * record.sample_interval_s * SECOND_MS, 10 * MINUTE_MS);
}

/** Over a longer gap no energy is counted: no value is made up. */
export function energyGapMs(record: SiteRecord): number {
  return Math.max(6 * record.sample_interval_s * SECOND_MS, 5 * MINUTE_MS);
}

/** Silence: nothing for six samples, at least ten minutes (the contract's own figures). */
export function silenceMs(record: SiteRecord): number {
  return Math.max(6 * record.sample_interval_s * SECOND_MS, 10 * MINUTE_MS);
}
