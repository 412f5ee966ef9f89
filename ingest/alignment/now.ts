/**
 * *Now* of a site without a listening worker: the upper median over its units and packs of their newest reading
 * (formats.md, section 4). A source that was never heard counts as the oldest.
 *
 * @param newestMs newest t of each unit and pack of the record, epoch ms; null where never heard
 * @returns null where most were never heard
 */
export function upperMedianNow(newestMs: readonly (number | null)[]): number | null {
  if (newestMs.length === 0) return null;
  const sorted = newestMs.map((t) => t ?? Number.NEGATIVE_INFINITY).sort((a, b) => a - b);
  const median = sorted[Math.floor(sorted.length / 2)]!;
  return Number.isFinite(median) ? median : null;
}
