/** What is wrong with site records, as lines for people and as JSON. */
import type { CheckedSites, LocatedContradiction } from '../site/check-sites.ts';
import type { SiteMistake } from '../site/site-mistake.ts';
import { counted } from './figures.ts';

/**
 * refusal: the document can't be used. contradiction: it can't all be true. habit: common practice that the maker's
 * manual may overrule. oddity, warning: somebody should look twice.
 */
export type Weight = 'refusal' | LocatedContradiction['severity'] | 'warning';

export interface WeighedMistake {
  readonly weight: Weight;
  readonly mistake: SiteMistake;
  /** Which contradiction of which site; null for the others. */
  readonly contradiction: { readonly id: string; readonly site: string } | null;
}

const inOrder = ({ mistake: a }: WeighedMistake, { mistake: b }: WeighedMistake): number =>
  (a.file < b.file ? -1 : a.file > b.file ? 1 : 0) || a.line - b.line || a.column - b.column;

/** All that was said of the records, in the order of reading. */
export function weighedMistakes({ refusals, contradictions, warnings }: CheckedSites): readonly WeighedMistake[] {
  return [
    ...refusals.map((mistake) => ({ weight: 'refusal' as const, mistake, contradiction: null })),
    ...contradictions.map((one) => ({
      weight: one.severity,
      mistake: one,
      contradiction: { id: one.id, site: one.site },
    })),
    ...warnings.map((mistake) => ({ weight: 'warning' as const, mistake, contradiction: null })),
  ].sort(inOrder);
}

/** Whether a mistake must be mended before anything starts. */
export function mustBeMended({ weight }: WeighedMistake): boolean {
  return weight === 'refusal' || weight === 'contradiction';
}

/** 'sites.yaml:12:5: contradiction: two units lead; let one of them follow' */
export function sayWeighed({ weight, mistake }: WeighedMistake): string {
  const { file, line, column, what, remedy } = mistake;
  return `${file}:${line}:${column}: ${weight}: ${what}; ${remedy}`;
}

export function weighedJson({ weight, mistake, contradiction }: WeighedMistake): Record<string, unknown> {
  const { file, line, column, what, remedy } = mistake;
  return { file, line, column, weight, ...(contradiction ?? {}), what, remedy };
}

/** 'Checked 3 documents of 2 sites: 1 refusal, 0 contradictions, 2 remarks.' */
export function sayCheckSummary(checked: CheckedSites, mistakes: readonly WeighedMistake[]): string {
  const count = (weight: Weight): number => mistakes.filter((one) => one.weight === weight).length;
  const remarks = mistakes.filter((one) => !mustBeMended(one)).length;
  const sites = new Set(checked.documents.map(({ site }) => site)).size;
  return `Checked ${counted(checked.documents.length, 'document')} of ${counted(sites, 'site')}: ${counted(count('refusal'), 'refusal')}, ${counted(count('contradiction'), 'contradiction')}, ${counted(remarks, 'remark')}.`;
}
