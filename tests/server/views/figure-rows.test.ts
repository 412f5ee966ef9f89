import { describe, expect, test } from 'vitest';
import { checkSites } from '../../../ingest/site/check-sites.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import type { SiteAnswer } from '../../../server/contract/site.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import { figureRows } from '../../../server/views/figure-rows.ts';
import { sayAbout, sayFigures, sayHeadFigure, saySite } from '../../../server/views/say-site.ts';
import { MILLPOND } from '../../ingest/site/millpond.ts';

const now = epochMs(Date.UTC(2026, 3, 14, 6, 40));
const saying = { words: ENGLISH, zone: 'Europe/Lisbon', now };
const record = checkSites([{ file: 'sites.yaml', text: MILLPOND }]).documents[0]!;
const figure = { site: 'millpond', mode: null, nowAt: now, because: null } as const;
const figures: SiteAnswer['figures'] = [
  { ...figure, measure: 'charge_apart', subject: 'p1', then: 0.1, now: 0.6, limit: 5 },
  { ...figure, measure: 'share', subject: 'u2', mode: 'grid', then: 0.491, now: 0.44, limit: 0.03 },
  {
    ...figure,
    measure: 'share',
    subject: 'u1',
    mode: 'backup',
    then: 0.5,
    now: null,
    limit: 0.03,
    because: 'no loaded hour since',
  },
];
const plain = (text: string): string => text.replaceAll('\u00a0', ' ').replaceAll('\u2212', '-');
const page = (more: Partial<SiteAnswer>) =>
  ({ findings: [], figures, cannotTell: [], record, ...more }) as unknown as SiteAnswer;

describe('then, now, limit', () => {
  test('the furthest first, what cannot be told last, each in its own unit', () => {
    const rows = figureRows(figures, saying).map(({ label, proven, now: is, symbol, limit, isBeyond }) => [
      label,
      proven,
      is,
      symbol,
      limit,
      isBeyond,
    ]);
    expect(rows).toEqual([
      ['u2, share of output', '49.1', '44.0', '%', '± 3.0', true],
      ['p1, charge against the bank', '0.1', '0.6', 'points', '± 5.0', false],
      ['u1, share of output on its own', '50.0', '–', '%', '± 3.0', false],
    ]);
    expect(figureRows(figures, saying)[2]!.beam).toMatchObject({ says: 'untold', because: 'no loaded hour since' });
  });

  test('the first lines of a site', () => {
    expect(saySite(page({ figures: figures.slice(0, 1) }), saying)).toBe('It carries its load as it was proven.');
    expect(plain(saySite(page({}), saying))).toBe(
      'u2, share of output stands -5.1 from what was proven (limit ± 3.0), not yet for long enough to be sure.',
    );
    expect(saySite(page({ figures: figures.slice(2) }), saying)).toBe(
      'Proven, but nothing can be told now: no loaded hour since.',
    );
    const learning = page({ figures: [{ ...figures[2]!, then: null }] });
    expect(saySite(learning, saying)).toBe('Not proven yet: no loaded hour since.');
    expect(saySite(page({ figures: [], cannotTell: [] }), saying)).toContain('nothing can be said yet');
    expect(plain(sayAbout({ record }, saying))).toBe(
      'Millpond Clinic · two units of 8 kW · two packs of 100 Ah · proven from 2 March',
    );
    expect(sayFigures({ figures }, saying)).toBe(
      'Of three figures one is beyond the limit, one within it and one cannot be told now.',
    );
    expect(plain(sayHeadFigure({ figures }, saying)!)).toBe('-5.1 of ± 3.0');
    expect(sayHeadFigure({ figures: [] }, saying)).toBeNull();
  });
});
