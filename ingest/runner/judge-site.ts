/** Analyses a site for a store that may be written, and lets others know where the answer is another one. */
import type { DerivedStore, SiteAnswer } from '../store/derived-store.ts';
import type { ReadingStore } from '../store/reading-store.ts';
import { analyseSite } from './analyse-site.ts';

export interface Judged {
  /** null where no record names the site. */
  readonly answer: SiteAnswer | null;
  /** Then the change number is raised, which is how the board learns of it. */
  readonly isOther: boolean;
}

/** Only for the holder of the worker lock. */
export function judgeSite(store: ReadingStore, derived: DerivedStore, site: string): Judged {
  const before = JSON.stringify(derived.answer(site));
  const answer = analyseSite(store, derived, site, { asOf: null, mayWrite: true });
  const isOther = JSON.stringify(derived.answer(site)) !== before;
  if (isOther) store.transaction(() => store.nextChange());
  return { answer, isOther };
}
