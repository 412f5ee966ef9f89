/**
 * When a finding could first be printed, where it rests on a reading that was set aside as it came: the first one
 * after 48 hours without any, which no other reading stood beside until the next one arrived.
 */
import { type DayHead, loneFirsts } from '../alignment/set-aside.ts';
import type { ReadingStore, StoredSource } from '../store/reading-store.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs, HOUR_MS } from '../vocabulary/time.ts';
import { type LineAt, linesIn } from './lines-aside.ts';

interface OfSite {
  readonly sources: readonly StoredSource[];
  /** All blocks of all sources of the site. */
  readonly heads: readonly DayHead[];
}

export function onceTakenIn(store: ReadingStore, of: OfSite, findings: readonly Finding[]): Finding[] {
  const lone = new Map(loneFirsts(of.heads).map((head) => [head.tFirst, head]));
  return findings.map((finding) => {
    const first = lone.get(finding.detectedAt);
    if (first !== undefined) return { ...finding, detectedAt: epochMs(nextReading(store, of, first)) };
    const line = loneLine(store, of, finding.detectedAt);
    return line === null ? finding : { ...finding, detectedAt: epochMs(nextInstant(store, of, line)) };
  });
}

/** The site's next reading after the first one of that block. */
function nextReading(store: ReadingStore, { heads }: OfSite, { source, day, tFirst }: DayHead): number {
  const own = store.readBlock(source, day)?.tMs[1] ?? Number.POSITIVE_INFINITY;
  const later = heads.filter((head) => head.tFirst > tFirst).map((head) => head.tFirst);
  const next = Math.min(own, ...later);
  return Number.isFinite(next) ? next : tFirst;
}

const ALONE_MS = 48 * HOUR_MS;

/** The line of settings or alarms at t that was alone as it came, or null. */
function loneLine(store: ReadingStore, { sources, heads }: OfSite, t: number): LineAt | null {
  const hasCompany = heads.some(
    ({ tFirst, tLast }) => tFirst <= t && Math.max(tFirst, Math.min(tLast, t)) >= t - ALONE_MS,
  );
  if (hasCompany) return null;
  const before = linesIn(store, sources, t - ALONE_MS, t + 1);
  return before.length === 1 && before[0]!.t === t ? before[0]! : null;
}

/** The site's next instant of any kind after t; within 48 h there is one, or the line would still be set aside. */
function nextInstant(store: ReadingStore, { sources, heads }: OfSite, { t }: LineAt): number {
  const readings = heads.filter((head) => head.tFirst > t).map((head) => head.tFirst);
  const lines = linesIn(store, sources, t + 1, t + ALONE_MS + 1).map((line) => line.t);
  const next = Math.min(...readings, ...lines);
  return Number.isFinite(next) ? next : t;
}
