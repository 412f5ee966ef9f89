import type { Refusal } from '../vocabulary/refusal.ts';
import { assembleHistories } from './assemble-histories.ts';
import type { ContradictionId, ContradictionSeverity } from './contradiction.ts';
import { contradictionsOf } from './contradictions.ts';
import { parseSites } from './parse-sites.ts';
import type { SiteHistory, SiteRecord } from './record.ts';
import { byPlace, mistakeAt, type Place, type SiteMistake } from './site-mistake.ts';

export interface SitesText {
  /** What messages call it: 'sites.yaml'. */
  readonly file: string;
  readonly text: string;
}

/** A contradiction with the line it stands on. */
export interface LocatedContradiction extends SiteMistake {
  readonly id: ContradictionId;
  readonly severity: ContradictionSeverity;
  readonly site: string;
  readonly path: string;
}

export interface CheckedSites {
  /** Whole only where `refusals` is empty: a document with a mistake is missing from its site's history. */
  readonly histories: ReadonlyMap<string, SiteHistory>;
  readonly documents: readonly SiteRecord[];
  /** Mistakes that keep a document out, and clashes between documents. With any of these, nothing starts. */
  readonly refusals: readonly SiteMistake[];
  /** In order of place, of all severities. */
  readonly contradictions: readonly LocatedContradiction[];
  readonly warnings: readonly SiteMistake[];
}

/** The place of a path, or of what holds it: a key that is not there is shown at its map. */
function placeAt(places: ReadonlyMap<string, Place> | undefined, path: string): Place {
  for (let part = path; part !== ''; part = part.slice(0, Math.max(0, part.lastIndexOf('.'), part.lastIndexOf('[')))) {
    const place = places?.get(part);
    if (place !== undefined) return place;
  }
  return places?.get('') ?? { file: '', line: 1, column: 1 };
}

/** Everything that can be said of a set of site record files, in one go: mistakes, contradictions, the history of each site. */
export function checkSites(texts: readonly SitesText[]): CheckedSites {
  const parsed = texts.map(({ text, file }) => parseSites(text, file));
  const documents = parsed.flatMap((one) => one.documents);
  const places = new Map(parsed.flatMap((one) => [...one.places]));
  const locate = (record: SiteRecord, path: string, { what, remedy }: Refusal): SiteMistake =>
    mistakeAt(placeAt(places.get(record), path), what, remedy);

  const assembled = assembleHistories(documents);
  const clashes = assembled.refusals.map((refusal) => locate(refusal.record, refusal.path, refusal));
  const contradictions = documents.flatMap((record) =>
    contradictionsOf(record).map(({ id, severity, site, path, ...words }) => ({
      ...locate(record, path, words),
      id,
      severity,
      site,
      path,
    })),
  );
  return {
    histories: assembled.histories,
    documents,
    refusals: [...parsed.flatMap((one) => one.refusals), ...clashes].sort(byPlace),
    contradictions: contradictions.sort(byPlace),
    warnings: parsed.flatMap((one) => one.warnings).sort(byPlace),
  };
}
