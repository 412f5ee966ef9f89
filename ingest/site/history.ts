/** Questions about a site's dated documents: which one holds at a time, and since when a unit is the one it is. */
import type { EpochMs } from '../vocabulary/time.ts';
import type { PackRecord, SiteHistory, SiteRecord, UnitRecord } from './record.ts';

/** The document that holds at t: the newest with `validFrom` ≤ t, else the first. */
export function recordAt(history: SiteHistory, t: number): SiteRecord {
  let holding: SiteRecord = history.documents[0];
  for (const document of history.documents) {
    if (document.validFrom === null || document.validFrom <= t) holding = document;
  }
  return holding;
}

/** What makes a unit or pack another one: any of these differing starts a new baseline. */
function identityOf(record: SiteRecord, id: string): string | null {
  const unit: UnitRecord | undefined = record.units.find((u) => u.id === id);
  const pack: PackRecord | undefined = record.packs.find((p) => p.id === id);
  if (unit === undefined && pack === undefined) return null;
  return JSON.stringify(unit ?? pack);
}

/**
 * Since when a unit or pack is as it is at t: the `validFrom` of the document that last changed
 * anything about it (serial, cable, rating …), or null where nothing changed since the first document.
 */
export function unchangedSince(history: SiteHistory, id: string, t: number): EpochMs | null {
  let since: EpochMs | null = null;
  let identity: string | null | undefined;
  for (const document of history.documents) {
    if (document.validFrom !== null && document.validFrom > t) break;
    const now = identityOf(document, id);
    if (identity !== undefined && now !== identity) since = document.validFrom;
    identity = now;
  }
  return since;
}

/** Units that share one phase's load; a unit of all three phases is a group with its like. */
export function phaseGroups(record: SiteRecord): ReadonlyMap<string, readonly UnitRecord[]> {
  const groups = new Map<string, UnitRecord[]>();
  for (const unit of record.units) {
    const group = groups.get(unit.phase);
    if (group === undefined) groups.set(unit.phase, [unit]);
    else group.push(unit);
  }
  return groups;
}
