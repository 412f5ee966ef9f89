import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { checkSites } from '../../../ingest/site/check-sites.ts';
import { parseSites } from '../../../ingest/site/parse-sites.ts';
import type { SiteRecord } from '../../../ingest/site/record.ts';
import { sayMistake } from '../../../ingest/site/site-mistake.ts';
import { FAULTY } from './faulty-records.ts';
import { MILLPOND, millpondWith, unmarked } from './millpond.ts';

const CONTRACT = '../shared/formats.md';

function only(text: string): SiteRecord {
  const { documents, refusals } = parseSites(text, 'sites.yaml');
  expect(refusals.map(sayMistake)).toEqual([]);
  expect(documents).toHaveLength(1);
  return documents[0]!;
}

const warningsOf = (text: string): string[] => parseSites(text, 'sites.yaml').warnings.map(sayMistake);

const SHORT = `site: shed
supply: { nominal_voltage_v: 230, nominal_frequency_hz: 50 }
units: [{ id: u1, rated_power_w: 5000 }, { id: u2, rated_power_w: 5000 }]
`;

describe('a sound record', () => {
  test('the record of the contract is read whole, without a refusal, a warning or a contradiction', () => {
    const checked = checkSites([{ file: 'sites.yaml', text: MILLPOND }]);
    expect([...checked.refusals, ...checked.warnings, ...checked.contradictions]).toEqual([]);
    expect(checked.histories.get('millpond')?.documents).toHaveLength(1);
    const record = checked.documents[0]!;
    expect(record).toMatchObject({
      site: 'millpond',
      validFrom: Date.UTC(2026, 2, 2),
      commissioned: Date.UTC(2026, 2, 2),
      ct: [{ unit: 'u1', phase: 'L1' }],
      neutral_earth_bond: 'external',
      island_frequency_band_hz: [49, 51],
      expected_settings: { battery_type: 'lithium', battery_shared: true },
    });
    expect(record.units[1]).toEqual({
      id: 'u2',
      role: 'follower',
      rated_power_w: 8000,
      phase: 'L1',
      serial: null,
      chain_position: 2,
      terminated: true,
      output_cable: { length_m: 9, area_mm2: 16, material: 'copper' },
      input_cable: null,
    });
  });

  test.skipIf(!existsSync(CONTRACT))('the contract page still shows that record', () => {
    const page = readFileSync(CONTRACT, 'utf8');
    const shown = /## 2\. Site record[\s\S]*?```yaml\n([\s\S]*?)```/.exec(page)?.[1];
    expect(shown).toBeDefined();
    expect(only(shown!)).toEqual(only(MILLPOND));
  });

  test('a record is plain JSON', () => {
    const record = only(MILLPOND);
    expect(JSON.parse(JSON.stringify(record))).toEqual(record);
  });

  test('the order of keys in the file does not reach the record, so it starts no new baseline', () => {
    const turned = millpondWith('{ id: p1, capacity_ah: 100,', '{ capacity_ah: 100, id: p1,');
    expect(JSON.stringify(only(turned))).toBe(JSON.stringify(only(MILLPOND)));
  });

  test('with the required keys alone the rest is read as its default, and a warning names each assumption', () => {
    const record = only(SHORT);
    expect(record).toMatchObject({
      validFrom: null,
      name: 'shed',
      timezone: 'UTC',
      supply: { phases: 1 },
      sample_interval_s: 10,
      packs: [],
      battery_link: null,
      ct: [],
      meters: [],
      neutral_earth_bond: null,
      sharing: { grid: null, backup: null },
      reserve_soc_pct: null,
      ac_coupled_pv: false,
      island_frequency_band_hz: [49, 51],
      island_voltage_band_pct: [-10, 10],
      commissioned: null,
      group: null,
      limits: { share_points: 3, heat_w: 10, changeover_ms: 20 },
      expected_settings: {},
    });
    expect(record.units.map(({ role, phase }) => [role, phase])).toEqual([
      ['lead', 'L1'],
      ['follower', 'L1'],
    ]);
    const words = warningsOf(SHORT).join('\n');
    for (const key of ['name', 'timezone', 'phases', 'sample_interval_s', 'phase', 'role: lead', 'role: follower'])
      expect(words).toContain(key);
  });

  test('a role that is missing is read as follower where another unit leads', () => {
    const record = only(millpondWith('    role: follower\n', ''));
    expect(record.units.map(({ role }) => role)).toEqual(['lead', 'follower']);
  });

  test('where nobody leads, the first unit without a role does', () => {
    const record = only(millpondWith('    role: lead\n', ''));
    expect(record.units.map(({ role }) => role)).toEqual(['lead', 'follower']);
  });

  test('the phases of a supply follow from its units where they are not given', () => {
    const supplied = (phase: string) => only(SHORT.replace('id: u2,', `id: u2, phase: ${phase},`)).supply.phases;
    expect(['L1', 'L2', 'L3', 'split', 'three'].map(supplied)).toEqual([1, 2, 3, 2, 3]);
  });

  test('the default band of 60 Hz is free of the last bit of a product', () => {
    expect(only(SHORT.replace('hz: 50', 'hz: 60')).island_frequency_band_hz).toEqual([58.8, 61.2]);
  });

  test.each([
    ['packs: [{ id: p1, capacity_ah: 100, cells_in_series: 15 }]', 48, 15],
    ['packs: [{ id: p1, capacity_ah: 100, nominal_voltage_v: 48 }]', 48, 15],
    ['packs: [{ id: p1, capacity_ah: 100 }]', 51.2, 16],
    ['packs: [{ id: p1, capacity_ah: 100, nominal_voltage_v: 51.1, chemistry: NMC }]', 51.1, 14],
  ])('%s is %d V of %d cells', (packs, voltageV, cells) => {
    const text = `${SHORT}${packs}\n`;
    expect(only(text).packs[0]).toMatchObject({ nominal_voltage_v: voltageV, cells_in_series: cells });
    expect(warningsOf(text).some((words) => words.includes('this pack has no'))).toBe(true);
  });

  test.each([
    ['ct: { unit: u1 }', 1, 'L1'],
    ['ct: [{ unit: u1 }]', 1, 'L1'],
    ['ct: [{ unit: u1 }]', 3, null],
    ['ct: [{ unit: u1, phase: L2 }]', 3, 'L2'],
  ])('%s on a supply of %d phases is on phase %s', (ct, phases, phase) => {
    expect(only(`${SHORT.replace('hz: 50', `hz: 50, phases: ${phases}`)}${ct}\n`).ct).toEqual([{ unit: 'u1', phase }]);
  });

  test.each(['{ by: none }', 'none'])('the bond may be written %s', (bond) => {
    expect(only(`${SHORT}neutral_earth_bond: ${bond}\n`).neutral_earth_bond).toBe('none');
  });

  test.each([
    ['2026-03-02', 0],
    ['"2026-03-02"', 0],
    ['!!str 2026-03-02', 0],
    ['2026-03-02T00:00:00Z', 0],
    ['2026-03-02T02:00:00+02:00', 0],
    ['2026-03-02T14:30:00Z', 1],
  ])('valid_from: %s is midnight UTC of that day, with %d warning', (written, warned) => {
    const text = millpondWith('valid_from: 2026-03-02', `valid_from: ${written}`);
    expect(only(text).validFrom).toBe(Date.UTC(2026, 2, 2));
    expect(warningsOf(text)).toHaveLength(warned);
  });

  test('a date that the YAML version turned into a date is read all the same', () => {
    expect(only(`%YAML 1.1\n---\n${MILLPOND}`).validFrom).toBe(Date.UTC(2026, 2, 2));
  });

  test('a serial keeps its zeros, and an id may be a number', () => {
    const text = SHORT.replace('{ id: u1,', '{ id: 01, serial: 0042,');
    expect(only(text).units[0]).toMatchObject({ id: '01', serial: '0042' });
  });

  test('a cable without a length is read as not recorded', () => {
    const text = millpondWith('length_m: 9, ', '');
    expect(only(text).units[1]?.output_cable).toBeNull();
    expect(warningsOf(text)).toEqual([expect.stringContaining('line 23, column 19: this cable has no length_m')]);
  });

  test('an alias stands for what its anchor marks', () => {
    const text = millpondWith('output_cable: {', 'output_cable: &six {').replace(
      '{ length_m: 8, area_mm2: 16, material: copper }',
      '*six',
    );
    expect(only(text).units[0]?.input_cable?.length_m).toBe(6);
  });

  test('an alias stands for the last anchor of its name before it', () => {
    const text = SHORT.replace('id: u1, rated_power_w: 5000', 'id: u1, rated_power_w: &w 5000').replace(
      'id: u2, rated_power_w: 5000',
      'id: u2, rated_power_w: *w',
    );
    const third = text.replace(' }]\n', ' }, { id: u3, rated_power_w: &w 3000 }, { id: u4, rated_power_w: *w }]\n');
    expect(only(third).units.map((unit) => unit.rated_power_w)).toEqual([5000, 5000, 3000, 3000]);
  });

  test('an anchor that holds itself is a mistake like any other', () => {
    const { refusals } = parseSites(SHORT.replace('units: [', 'units: &u [*u, '), 'sites.yaml');
    expect(refusals.map(({ what }) => what)).toEqual(['unit 1 is a list']);
  });

  test('windows line ends and a byte order mark change nothing', () => {
    expect(only(`\uFEFF${MILLPOND.replaceAll('\n', '\r\n')}`)).toEqual(only(MILLPOND));
  });

  test('several documents are read in order, empty ones left out', () => {
    const { documents, refusals } = parseSites(`---\n${MILLPOND}---\n# nothing\n---\n${SHORT}...\n`, 'sites.yaml');
    expect(refusals).toEqual([]);
    expect(documents.map(({ site }) => site)).toEqual(['millpond', 'shed']);
  });

  test.each(['', '# sites to come\n', '---\n...\n'])('an empty file %j is taken, with a warning', (text) => {
    const { documents, refusals, warnings } = parseSites(text, 'sites.yaml');
    expect([documents, refusals]).toEqual([[], []]);
    expect(warnings.map(sayMistake)).toEqual([
      expect.stringContaining('sites.yaml, line 1, column 1: there is no site in here'),
    ]);
  });
});

describe('a faulty record', () => {
  test.each(FAULTY)('$write: $says.0', ({ instead, write, says }) => {
    const { text, marks } = unmarked(millpondWith(instead, write));
    const { documents, refusals } = parseSites(text, 'sites.yaml');
    // Several mistakes may stand at one place, so a mark may hold more than one.
    expect([...new Set(refusals.map(({ line, column }) => `${line}:${column}`))]).toEqual(marks);
    expect(refusals.map(({ what, remedy }) => `${what}; ${remedy}`)).toEqual(
      says.map((words) => expect.stringContaining(words)),
    );
    expect(documents).toEqual([]);
  });
});

describe('every mistake in one go', () => {
  const MANY = unmarked(`site: barn
timezone: ‸Lisbon/Europe
supply: { nominal_voltage_v: ‸x, nominal_frequency_hz: ‸-50 }
units:
  - { id: u1, rated_power_w: ‸"8000" }
  - ‸{ id: u2 }
  - { id: ‸u2, rated_power_w: 8000, role: ‸boss }
ct: [{ unit: ‸u7 }]
‸site: barn
---
site: ‸Byre
supply: { nominal_voltage_v: 230, nominal_frequency_hz: 50 }
units: [{ id: u1, rated_power_w: 8000 }]
`);

  test('each is found, in order of place, across documents', () => {
    const { refusals } = parseSites(MANY.text, 'sites.yaml');
    expect(refusals.map(({ line, column }) => `${line}:${column}`)).toEqual(MANY.marks);
  });

  test('each is said with its file, line and column, and comes as one line of text', () => {
    const { refusals } = parseSites(MANY.text, 'sites.yaml');
    for (const refusal of refusals) {
      expect(refusal.where).toBe(`sites.yaml, line ${refusal.line}, column ${refusal.column}`);
      expect(sayMistake(refusal)).toBe(`${refusal.where}: ${refusal.what}; ${refusal.remedy}`);
      expect(sayMistake(refusal)).not.toContain('\n');
    }
  });

  test('a document with a mistake does not keep the others out', () => {
    const { documents } = parseSites(`${MANY.text}---\n${SHORT}`, 'sites.yaml');
    expect(documents.map(({ site }) => site)).toEqual(['shed']);
  });

  test('where syntax breaks, what stands before it is still judged, and what seems missing is not', () => {
    const { text, marks } = unmarked(
      'site: ‸Mill Pond\nsupply: { nominal_voltage_v: ‸-1, nominal_frequency_hz: 50 }\nunits:\n‸\t- id: u1\npacks: what\n',
    );
    expect(parseSites(text, 'sites.yaml').refusals.map(({ line, column }) => `${line}:${column}`)).toEqual(marks);
  });

  test('a mistake behind an alias that is used twice is said once', () => {
    const text = SHORT.replace(
      'rated_power_w: 5000 }, {',
      'rated_power_w: 5000, output_cable: &c { length_m: 0, area_mm2: 16 } }, { output_cable: *c,',
    );
    expect(parseSites(text, 'sites.yaml').refusals.filter(({ what }) => what === 'length_m is 0')).toHaveLength(1);
  });
});

describe('a text that nobody wrote', () => {
  test.each([
    ['lists in lists', '- '.repeat(60_000)],
    ['an indentation without end', `a:\n${' '.repeat(60_000)}b: 1`],
    ['open brackets', '['.repeat(20_000)],
    ['open maps', '{a: '.repeat(5_000)],
    ['open keys', '? '.repeat(60_000)],
  ])('%s are refused like any other mistake', (_, text) => {
    expect(parseSites(text, 'sites.yaml').refusals.length).toBeGreaterThan(0);
  });
});

describe('what is taken with a warning', () => {
  test.each([
    ['group: ', 'group:\n‸grup: ', 'grup is no key of a site; did you mean group?'],
    [
      'rated_power_w: 8000',
      'rated_power_w: ‸8',
      'rated_power_w is 8; that is unusual; check that it is in W, as in 8000',
    ],
    ['    phase: L1\n', '    ‸phse: L1\n', 'phse is no key of a unit; did you mean phase?'],
    ['name: Millpond', '‸colour: blue\nname: Millpond', 'colour is no key of a site; leave it out'],
    [
      'battery_type: lithium',
      'firmware: ‸1.10',
      'firmware is read as the number 1.1, not as 1.10; if it is a text, write it in quotes: "1.10"',
    ],
    ['battery_type: lithium', 'battery_type: ‸', 'battery_type is empty; it is not compared'],
    ['Millpond Clinic', '‸!place Millpond Clinic', 'the ! tag is not known; leave it out'],
  ])('%j written as %j', (instead, write, says) => {
    const { text, marks } = unmarked(millpondWith(instead, write));
    const { documents, refusals, warnings } = parseSites(text, 'sites.yaml');
    expect(refusals.map(sayMistake)).toEqual([]);
    expect(documents).toHaveLength(1);
    const found = warnings.find(({ what, remedy }) => `${what}; ${remedy}`.includes(says));
    expect(found === undefined ? warnings.map(sayMistake) : `${found.line}:${found.column}`).toBe(marks[0]);
  });

  test('a setpoint with a zero behind the point is a number and no cause for a warning', () => {
    expect(warningsOf(millpondWith('battery_type: lithium', 'output_voltage_setpoint_v: 230.0'))).toEqual([]);
  });
});
