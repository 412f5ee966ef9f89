/** How often one pusher may ask: a bucket of requests that fills with time. */
import { SECOND_MS } from '../../vocabulary/time.ts';

export interface RequestRate {
  /** Takes a request out of the bucket. @returns 0, or after how many seconds there is one */
  take(who: string): number;
}

/** @param elapsedMs a clock that never steps */
export function createRequestRate(burst: number, perSecond: number, elapsedMs: () => number): RequestRate {
  const buckets = new Map<string, { left: number; atMs: number }>();
  return {
    take(who) {
      const atMs = elapsedMs();
      const bucket = buckets.get(who) ?? { left: burst, atMs };
      const left = Math.min(burst, bucket.left + ((atMs - bucket.atMs) * perSecond) / SECOND_MS);
      const isFree = left >= 1;
      buckets.set(who, { left: isFree ? left - 1 : left, atMs });
      return isFree ? 0 : (1 - left) / perSecond;
    },
  };
}
