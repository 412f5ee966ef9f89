import type { Refusal } from '../vocabulary/refusal.ts';
import { formatDay } from '../vocabulary/time.ts';
import type { SiteHistory, SiteRecord } from './record.ts';

/** A document that cannot stand beside another of its site. */
export interface HistoryRefusal extends Refusal {
  readonly record: SiteRecord;
  /** The value it hangs on, for a place in the file: 'valid_from' or 'site'. */
  readonly path: string;
}

export interface AssembledHistories {
  /** By site; a site whose documents clash is left out. */
  readonly histories: ReadonlyMap<string, SiteHistory>;
  readonly refusals: readonly HistoryRefusal[];
}

function clash(record: SiteRecord): HistoryRefusal {
  const { site, validFrom } = record;
  if (validFrom === null) {
    const remedy = 'give valid_from to all but the first document of a site';
    return {
      record,
      path: 'site',
      where: `${site}, valid_from`,
      what: `${site} has a second document without valid_from`,
      remedy,
    };
  }
  const what = `${site} has a second document that is valid from ${formatDay(validFrom)}`;
  return {
    record,
    path: 'valid_from',
    where: `${site}, valid_from`,
    what,
    remedy: 'give each document of a site a day of its own, or leave one out',
  };
}

/** Puts the documents of each site in order of `validFrom`; the one without comes first. Documents may come in any order. */
export function assembleHistories(documents: readonly SiteRecord[]): AssembledHistories {
  const bySite = new Map<string, SiteRecord[]>();
  for (const document of documents) {
    const known = bySite.get(document.site);
    if (known === undefined) bySite.set(document.site, [document]);
    else known.push(document);
  }
  const histories = new Map<string, SiteHistory>();
  const refusals: HistoryRefusal[] = [];
  for (const [site, given] of bySite) {
    const seen = new Set<number | null>();
    const clashes = given.filter(({ validFrom }) => seen.size === seen.add(validFrom).size);
    refusals.push(...clashes.map(clash));
    const from = ({ validFrom }: SiteRecord): number => validFrom ?? Number.MIN_SAFE_INTEGER;
    const [first, ...later] = given.toSorted((a, b) => from(a) - from(b));
    if (clashes.length === 0 && first !== undefined) histories.set(site, { site, documents: [first, ...later] });
  }
  return { histories, refusals };
}
