/**
 * When a finding could first be printed, where it rests on a reading that was set aside as it came: the first one
 * after 48 hours without any, which no other reading stood beside until the next one arrived.
 */
import { type DayHead, loneFirsts } from '../alignment/set-aside.ts';
import type { ReadingStore } from '../store/reading-store.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs } from '../vocabulary/time.ts';

/** @param heads all blocks of all sources of the site */
export function onceTakenIn(store: ReadingStore, heads: readonly DayHead[], findings: readonly Finding[]): Finding[] {
  const lone = new Map(loneFirsts(heads).map((head) => [head.tFirst, head]));
  return findings.map((finding) => {
    const first = lone.get(finding.detectedAt);
    return first === undefined ? finding : { ...finding, detectedAt: epochMs(nextReading(store, heads, first)) };
  });
}

/** The site's next reading after the first one of that block. */
function nextReading(store: ReadingStore, heads: readonly DayHead[], { source, day, tFirst }: DayHead): number {
  const own = store.readBlock(source, day)?.tMs[1] ?? Number.POSITIVE_INFINITY;
  const later = heads.filter((head) => head.tFirst > tFirst).map((head) => head.tFirst);
  const next = Math.min(own, ...later);
  return Number.isFinite(next) ? next : tFirst;
}
