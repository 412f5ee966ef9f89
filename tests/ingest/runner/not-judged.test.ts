import { describe, expect, test } from 'vitest';
import { JUDGED_KINDS } from '../../../ingest/analysis/analyzers.ts';
import { kindsNotJudged } from '../../../ingest/runner/not-judged.ts';
import { FINDING_KINDS } from '../../../ingest/vocabulary/finding.ts';

describe('kindsNotJudged', () => {
  test('with the judged kinds makes all kinds of the contract, none twice', () => {
    expect([...JUDGED_KINDS, ...kindsNotJudged(null)].sort()).toEqual([...FINDING_KINDS].sort());
  });

  test('asked for a judged kind is empty, asked for another names it', () => {
    expect(kindsNotJudged('share_drift')).toEqual([]);
    expect(kindsNotJudged('slow_changeover')).toEqual(['slow_changeover']);
  });
});
