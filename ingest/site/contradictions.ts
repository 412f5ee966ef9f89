import type { Contradiction } from './contradiction.ts';
import type { SiteRecord } from './record.ts';
import { bands, batteryLink, currentTransformers, dates, earthBond, packs } from './supply-contradictions.ts';
import { chain, leads, phases, serials, sharing, terminations } from './unit-contradictions.ts';

const CHECKS: readonly ((record: SiteRecord) => readonly Contradiction[])[] = [
  leads,
  serials,
  chain,
  terminations,
  phases,
  sharing,
  batteryLink,
  packs,
  currentTransformers,
  earthBond,
  bands,
  dates,
];

/**
 * What cannot all be true in one document of a site, what is not the habit of the trade, and what is odd.
 * The record may come from a file or from a form; nothing is assumed of it but its type.
 */
export function contradictionsOf(record: SiteRecord): readonly Contradiction[] {
  return CHECKS.flatMap((check) => check(record));
}
