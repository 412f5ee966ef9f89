import { describe, expect, test } from 'vitest';
import { assembleHistories } from '../../../ingest/site/assemble-histories.ts';
import { phaseGroups, recordAt, unchangedSince } from '../../../ingest/site/history.ts';
import { parseSites } from '../../../ingest/site/parse-sites.ts';
import type { SiteRecord } from '../../../ingest/site/record.ts';
import { MILLPOND } from './millpond.ts';

const record = parseSites(MILLPOND, 'sites.yaml').documents[0]!;
const march = Date.UTC(2026, 2, 2);
const june = Date.UTC(2026, 5, 1);
const from = (validFrom: number | null, change: Partial<SiteRecord> = {}): SiteRecord => ({
  ...record,
  ...change,
  validFrom: validFrom as SiteRecord['validFrom'],
});

describe('assembleHistories', () => {
  test('documents of a site stand in order of valid_from, the one without first, whatever the order of the file', () => {
    const { histories, refusals } = assembleHistories([
      from(june),
      from(null),
      from(march),
      from(march, { site: 'barn' }),
    ]);
    expect(refusals).toEqual([]);
    expect(histories.get('millpond')?.documents.map(({ validFrom }) => validFrom)).toEqual([null, march, june]);
    expect(histories.get('barn')?.documents).toHaveLength(1);
  });

  test('a document before 1970 still comes after the one without a day', () => {
    const { histories } = assembleHistories([from(-1), from(null)]);
    expect(histories.get('millpond')?.documents.map(({ validFrom }) => validFrom)).toEqual([null, -1]);
  });

  test.each([
    [june, 'millpond has a second document that is valid from 2026-06-01', 'valid_from'],
    [null, 'millpond has a second document without valid_from', 'site'],
  ])('two documents of a site with valid_from %s clash, and the site is left out', (validFrom, what, path) => {
    const documents = [from(march), from(validFrom), from(validFrom), from(null, { site: 'barn' })];
    const { histories, refusals } = assembleHistories(documents);
    expect(refusals.map((refusal) => [refusal.what, refusal.path, refusal.record === documents[2]])).toEqual([
      [what, path, true],
    ]);
    expect([...histories.keys()]).toEqual(['barn']);
  });
});

describe('a history', () => {
  const replaced = { units: record.units.map((unit) => (unit.id === 'u2' ? { ...unit, serial: 'B-7' } : unit)) };
  const history = assembleHistories([from(null), from(june, replaced)]).histories.get('millpond')!;

  test('the document that holds is the newest that has begun', () => {
    expect(recordAt(history, june - 1).validFrom).toBeNull();
    expect(recordAt(history, june).validFrom).toBe(june);
  });

  test('a new serial starts a new unit on the day of its document, and touches no other', () => {
    expect(unchangedSince(history, 'u2', june)).toBe(june);
    expect(unchangedSince(history, 'u2', june - 1)).toBeNull();
    expect(unchangedSince(history, 'u1', june)).toBeNull();
  });

  test('units of one phase are one group', () => {
    expect([...phaseGroups(record)].map(([phase, units]) => [phase, units.map(({ id }) => id)])).toEqual([
      ['L1', ['u1', 'u2']],
    ]);
  });
});
