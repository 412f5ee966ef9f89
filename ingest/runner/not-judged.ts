/** What this version says nothing about: nothing found must not be read as nothing there. */
import { JUDGED_KINDS } from '../analysis/analyzers.ts';
import { FINDING_KINDS, type FindingKind } from '../vocabulary/finding.ts';

/** The kinds of the contract that no analyzer raises, in its order; those asked for, where one is. */
export function kindsNotJudged(asked: FindingKind | null): readonly FindingKind[] {
  return FINDING_KINDS.filter((kind) => !JUDGED_KINDS.includes(kind) && (asked === null || asked === kind));
}
