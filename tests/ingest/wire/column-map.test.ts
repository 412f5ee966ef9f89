import { describe, expect, test } from 'vitest';
import { parseColumnMap } from '../../../ingest/wire/column-map.ts';

const EXAMPLE = `delimiter: ";"
decimal: ","
time: { column: "Zeit", format: "dd.MM.yyyy HH:mm:ss", zone: Europe/Berlin }
site: millpond
unit: { column: "Gerät", names: { "WR 1": u1, "WR 2": u2 } }
values:
  output_power_w: { column: "Leistung kW", factor: 1000, absent: ["", "---"] }
`;

/** where and what of each mistake. */
function mistakesOf(text: string): string[] {
  const { map, mistakes } = parseColumnMap(text, 'map.yaml');
  expect(map === null).toBe(mistakes.length > 0);
  return mistakes.map(({ where, what }) => `${where}: ${what}`);
}

describe('parseColumnMap', () => {
  test('reads the example of the contract', () => {
    const { map, mistakes } = parseColumnMap(EXAMPLE, 'map.yaml');
    expect(mistakes).toEqual([]);
    expect(map).toMatchObject({
      form: { quotedCells: ';', unitBytes: 1 },
      decimal: ',',
      thousands: null,
      encoding: 'utf-8',
      skipLines: 0,
      site: { fixed: 'millpond' },
      time: { columns: ['Zeit'], zone: { name: 'Europe/Berlin' } },
    });
    const [source] = map!.sources;
    expect(source?.id).toEqual({
      column: 'Gerät',
      names: new Map([
        ['WR 1', 'u1'],
        ['WR 2', 'u2'],
      ]),
    });
    expect(source?.values[0]).toMatchObject({
      column: 'Leistung kW',
      target: { id: 'output_power_w' },
      factor: 1000,
      offset: 0,
      absent: ['', '---'],
      states: null,
    });
  });

  test('reports every mistake at once, each at its line and column', () => {
    const text = EXAMPLE.replace('delimiter: ";"', 'delimiter: "x"')
      .replace('decimal: ","', 'decimals: ","')
      .replace('Europe/Berlin', 'Europe/Nowhere')
      .replace('millpond', 'Mill Pond')
      .replace('output_power_w', 'output_power_kw')
      .replace('factor: 1000', 'factor: big');
    expect(mistakesOf(text)).toEqual([
      'map.yaml, line 1, column 1: delimiter is "x"',
      'map.yaml, line 2, column 1: "decimals" is no key of the file',
      'map.yaml, line 3, column 56: time.zone is "Europe/Nowhere"',
      'map.yaml, line 4, column 1: site is "Mill Pond"',
      'map.yaml, line 7, column 3: output_power_kw is no quantity',
      'map.yaml, line 7, column 45: values.output_power_kw.factor is "big"',
    ]);
  });

  test.each([
    ['a quantity of another kind', EXAMPLE.replace('output_power_w', 'soc_pct'), 'soc_pct is no quantity of a unit'],
    ['no source', EXAMPLE.replace(/^unit:.*$/m, ''), 'no source is named'],
    ['two sources', `${EXAMPLE}pack: p1\n`, 'both unit and pack are named'],
    ['no values', EXAMPLE.replace(/^values:[\s\S]*$/m, ''), 'values is missing'],
    ['no time', EXAMPLE.replace(/^time:.*$/m, ''), 'time is missing'],
    ['no zone for a wall time', EXAMPLE.replace(', zone: Europe/Berlin', ''), 'time.zone is missing'],
    [
      'a zone for an instant',
      EXAMPLE.replace('dd.MM.yyyy HH:mm:ss', 'rfc3339'),
      'the times of this format need no zone',
    ],
    ['half of a split time', EXAMPLE.replace('column: "Zeit"', 'date_column: "Tag"'), 'time has half of a split time'],
    [
      'a format without a year',
      EXAMPLE.replace('dd.MM.yyyy HH:mm:ss', 'dd.MM. HH:mm'),
      'time.format is "dd.MM. HH:mm"',
    ],
    ['one sign for both', `${EXAMPLE}thousands: ","\n`, 'thousands and decimal are the same sign'],
    ['states of a number', EXAMPLE.replace('factor: 1000', 'states: { "1": grid }'), 'output_power_w is a number'],
    [
      'a state that is none',
      EXAMPLE.replace(
        'output_power_w: { column: "Leistung kW", factor: 1000',
        'mode: { column: M, states: { ON: running }',
      ),
      'mode knows no running',
    ],
    ['a reserved id', EXAMPLE.replace('"WR 1": u1', '"WR 1": site'), 'unit.names.WR 1 is "site"'],
    [
      'values beside sources',
      `${EXAMPLE}sources: [{ pack: p1, values: { soc_pct: { column: S } } }]\n`,
      'unit stands beside sources',
    ],
    ['a list in place of a map', '- a\n', 'the file is a list'],
    ['an empty file', '', 'the file is null'],
  ])('reports %s', (_, text, what) => {
    expect(mistakesOf(text).some((mistake) => mistake.endsWith(`: ${what}`))).toBe(true);
  });

  test('says where YAML cannot be read', () => {
    expect(mistakesOf('site: "a\nunit: [')[0]).toMatch(/^map\.yaml, line \d+, column \d+: the YAML cannot be read/);
  });

  test('takes several sources a row', () => {
    const { map, mistakes } = parseColumnMap(
      'time: { column: T, format: epoch_s }\nsite: a\nsources:\n  - { unit: u1, values: { output_power_w: { column: P1 } } }\n  - { bank: bank, values: { bank_soc_pct: { column: S } } }\n',
      'map.yaml',
    );
    expect(mistakes).toEqual([]);
    expect(map?.sources.map(({ kind, id }) => [kind, id])).toEqual([
      ['unit', { fixed: 'u1' }],
      ['bank', { fixed: 'bank' }],
    ]);
  });
});
