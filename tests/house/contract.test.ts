import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { CAUSES, FINDING_KINDS } from '../../ingest/vocabulary/finding.ts';
import { COLUMNS, MODES, PACK_STATE_WORDS, type SourceKind } from '../../ingest/vocabulary/quantities.ts';

/** The contract page, where it lies beside the checkout. */
const PAGE = '../shared/formats.md';
const page = existsSync(PAGE) ? readFileSync(PAGE, 'utf8') : '';

/** Ids and resolutions of one table of the page; `a … b` rows stand for a run of phases and are left out. */
function tableOf(heading: string): { id: string; decimals: number }[] {
  const section = page.slice(page.indexOf(`### ${heading}`)).split('\n### ')[1 - 1]!;
  const body = section.slice(0, section.indexOf('\n### ', 5) === -1 ? undefined : section.indexOf('\n### ', 5));
  return body.split('\n').flatMap((line) => {
    const [ids, resolution] = line
      .split('|')
      .slice(1, 3)
      .map((cell) => cell.trim());
    if (ids === undefined || resolution === undefined || !/^[\d.]+$/.test(resolution)) return [];
    const decimals = resolution.includes('.') ? resolution.length - resolution.indexOf('.') - 1 : 0;
    return ids
      .split(', ')
      .filter((id) => /^[a-z_0-9]+$/.test(id))
      .map((id) => ({ id, decimals }));
  });
}

describe.runIf(page !== '')('the contract page', () => {
  test.each([
    ['Unit', 'unit', 20],
    ['Pack', 'pack', 8],
    ['Bank', 'bank', 5],
    ['Meter', 'meter', 4],
  ] as const)(
    '%s quantities and their resolutions are those of the vocabulary',
    (heading, kind: SourceKind, atLeast) => {
      const rows = tableOf(heading);
      expect(rows.length).toBeGreaterThanOrEqual(atLeast);
      for (const { id, decimals } of rows) {
        expect(
          COLUMNS[kind].find((c) => c.id === id),
          id,
        ).toMatchObject({ id, decimals });
      }
    },
  );

  test('names the finding kinds in this order', () => {
    const kinds = /- kinds: ([^.]+)\./
      .exec(page)![1]!
      .split(/,\s*/)
      .map((kind) => kind.trim());
    expect(FINDING_KINDS).toEqual(kinds);
  });

  test('names the causes', () => {
    for (const [kind, causes] of Object.entries(CAUSES)) {
      expect(page).toContain(`causes of ${kind}: ${causes.join(', ')}`);
    }
  });

  test('names the words of mode and pack state', () => {
    expect(page).toContain(MODES.join(', '));
    expect(page).toContain(PACK_STATE_WORDS.join(', '));
  });
});
