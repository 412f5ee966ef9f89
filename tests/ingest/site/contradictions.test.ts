import { describe, expect, test } from 'vitest';
import { checkSites } from '../../../ingest/site/check-sites.ts';
import { CONTRADICTIONS, type ContradictionId } from '../../../ingest/site/contradiction.ts';
import { contradictionsOf } from '../../../ingest/site/contradictions.ts';
import { parseSites } from '../../../ingest/site/parse-sites.ts';
import type { SiteRecord, UnitRecord } from '../../../ingest/site/record.ts';
import { sayMistake } from '../../../ingest/site/site-mistake.ts';
import { MILLPOND, millpondWith, unmarked } from './millpond.ts';

const record = parseSites(MILLPOND, 'sites.yaml').documents[0]!;
const [lead, follower] = record.units as readonly [UnitRecord, UnitRecord];
const third: UnitRecord = { ...follower, id: 'u3', chain_position: 3 };
const [pack] = record.packs;

const withUnits = (...units: UnitRecord[]): Partial<SiteRecord> => ({ units });
const ofPhases = (phases: 1 | 2 | 3): SiteRecord['supply'] => ({ ...record.supply, phases });

/** What is changed in the sound record, and every contradiction that it then holds, with its path and a piece of what it says. */
const CASES: readonly (readonly [
  name: string,
  change: Partial<SiteRecord>,
  found: readonly (readonly [ContradictionId, path: string, says: string])[],
])[] = [
  ['nothing', {}, []],
  [
    'no lead',
    withUnits({ ...lead, role: 'follower' }, follower),
    [
      ['lead_count', 'units', 'no unit is the lead'],
      ['battery_link_to_follower', 'battery_link.unit', 'u1'],
      ['ct_not_on_lead', 'ct[0]', 'u1'],
    ],
  ],
  [
    'two leads',
    withUnits(lead, { ...follower, role: 'lead' }),
    [['lead_count', 'units[1].role', 'u1 and u2 are all the lead']],
  ],
  [
    'one serial on two units',
    withUnits(lead, { ...follower, serial: 'A-1042' }),
    [['serial_repeated', 'units[1].serial', 'u1 and u2 have the same serial A-1042']],
  ],
  [
    'one place for two units',
    withUnits(lead, { ...follower, chain_position: 1 }),
    [['chain_repeated', 'units[1].chain_position', 'u1 and u2 both stand at position 1']],
  ],
  [
    'a gap in the chain',
    withUnits(lead, { ...follower, chain_position: 3 }),
    [['chain_gap', 'units[1].chain_position', 'u2 stands at position 3 of a parallel link of 2']],
  ],
  [
    'a unit without a place',
    withUnits(lead, { ...follower, chain_position: null }),
    [['chain_incomplete', 'units[1]', 'the place of u2']],
  ],
  [
    'no places at all, two terminations',
    withUnits({ ...lead, chain_position: null }, { ...follower, chain_position: null }),
    [],
  ],
  [
    'no places at all, one termination',
    withUnits({ ...lead, chain_position: null }, { ...follower, chain_position: null, terminated: false }),
    [['termination_count', 'units', '1 of 2 units']],
  ],
  [
    'an end without termination',
    withUnits(lead, { ...follower, terminated: false }),
    [['termination_missing', 'units[1].terminated', 'u2 is an end']],
  ],
  ['a termination that is not recorded', withUnits(lead, { ...follower, terminated: null }), []],
  [
    'a termination in the middle',
    withUnits(lead, follower, third),
    [['termination_between', 'units[1].terminated', 'u2 has a termination in the middle']],
  ],
  ['three units, terminated at the ends', withUnits(lead, { ...follower, terminated: false }, third), []],
  [
    'ends in another order of the list',
    withUnits({ ...lead, chain_position: 2, terminated: false }, { ...follower, chain_position: 1 }, third),
    [],
  ],
  ['one unit alone', { ...withUnits({ ...lead, terminated: false }), sharing: { grid: null, backup: null } }, []],
  [
    'L2 of a single-phase supply',
    withUnits(lead, { ...follower, phase: 'L2' }),
    [
      ['phase_not_supplied', 'units[1].phase', 'u2 is on phase L2 of a supply with phases: 1'],
      ['sharing_alone', 'sharing', 'no two units'],
    ],
  ],
  [
    'L3 of two phases',
    { ...withUnits(lead, follower, { ...third, phase: 'L3', terminated: true }), supply: ofPhases(2) },
    [
      ['termination_between', 'units[1].terminated', 'u2'],
      ['phase_not_supplied', 'units[2].phase', 'u3'],
    ],
  ],
  [
    'a three-phase unit on one phase',
    withUnits({ ...lead, phase: 'three' }, { ...follower, phase: 'three' }),
    [
      ['phase_not_supplied', 'units[0].phase', 'u1'],
      ['phase_not_supplied', 'units[1].phase', 'u2'],
    ],
  ],
  [
    'a three-phase unit on three',
    { ...withUnits({ ...lead, phase: 'three' }, { ...follower, phase: 'three' }), supply: ofPhases(3) },
    [],
  ],
  [
    'split on three phases',
    { ...withUnits({ ...lead, phase: 'split' }, { ...follower, phase: 'split' }), supply: ofPhases(3) },
    [
      ['phase_not_supplied', 'units[0].phase', 'u1'],
      ['phase_not_supplied', 'units[1].phase', 'u2'],
    ],
  ],
  [
    'split on a split-phase supply',
    { ...withUnits({ ...lead, phase: 'split' }, { ...follower, phase: 'split' }), supply: ofPhases(2) },
    [],
  ],
  [
    'split called single-phase',
    withUnits({ ...lead, phase: 'split' }, { ...follower, phase: 'split' }),
    [
      ['split_supply', 'units[0].phase', 'u1'],
      ['split_supply', 'units[1].phase', 'u2'],
    ],
  ],
  [
    'a law of sharing for one unit',
    withUnits({ ...lead }),
    [['sharing_alone', 'sharing', 'no two units are on one phase']],
  ],
  [
    'wired sharing in backup',
    { sharing: { grid: null, backup: 'wired' } },
    [['sharing_backup_wired', 'sharing.backup', 'needs the grid']],
  ],
  [
    'the data cable at a follower',
    { battery_link: { pack: 'p1', unit: 'u2' } },
    [['battery_link_to_follower', 'battery_link.unit', 'u2, a follower']],
  ],
  [
    'packs of unlike cells',
    { packs: [pack!, { ...pack!, id: 'p2', cells_in_series: 15, nominal_voltage_v: 48 }] },
    [
      [
        'packs_unlike',
        'packs[1].cells_in_series',
        'p2 differs from p1 in cells_in_series (15, not 16) and nominal_voltage_v (48, not 51.2)',
      ],
    ],
  ],
  [
    'packs of unlike chemistry',
    { packs: [pack!, { ...pack!, id: 'p2', chemistry: 'nmc' }] },
    [['packs_unlike', 'packs[1].chemistry', 'chemistry (nmc, not lfp)']],
  ],
  ['packs of unlike capacity', { packs: [pack!, { ...pack!, id: 'p2', capacity_ah: 280 }] }, []],
  [
    'a miscounted cell',
    { packs: [{ ...pack!, cells_in_series: 14 }] },
    [['cell_voltage_unlikely', 'packs[0].nominal_voltage_v', '51.2 V over 14 cells is 3.66 V a cell; lfp has 3.2 V']],
  ],
  ['a chemistry nobody listed', { packs: [{ ...pack!, chemistry: 'sodium', cells_in_series: 14 }] }, []],
  [
    'two CTs on one phase',
    {
      ct: [
        { unit: 'u1', phase: 'L1' },
        { unit: 'u1', phase: 'L1' },
      ],
    },
    [['ct_repeated', 'ct[1]', 'L1 has a CT of u1 and one of u1']],
  ],
  [
    'a CT of the whole supply beside one of L2',
    {
      supply: ofPhases(3),
      ct: [
        { unit: 'u1', phase: null },
        { unit: 'u2', phase: 'L2' },
      ],
    },
    [['ct_repeated', 'ct[1]', 'L2 has a CT of u1 and one of u2']],
  ],
  [
    'a CT a phase',
    {
      supply: ofPhases(3),
      ct: [
        { unit: 'u1', phase: 'L1' },
        { unit: 'u2', phase: 'L2' },
      ],
    },
    [],
  ],
  [
    'a CT on a phase that is not there',
    { ct: [{ unit: 'u1', phase: 'L3' }] },
    [['ct_phase_not_supplied', 'ct[0]', 'phase L3 of a supply with phases: 1']],
  ],
  ['the CT at a follower', { ct: [{ unit: 'u2', phase: 'L1' }] }, [['ct_not_on_lead', 'ct[0]', 'u2, a follower']]],
  ['no CT', { ct: [] }, []],
  ['a bond nobody named', { neutral_earth_bond: null }, [['bond_unsaid', '', 'does not say']]],
  ['no bond', { neutral_earth_bond: 'none' }, [['bond_none', 'neutral_earth_bond', 'defeats fault protection']]],
  ['a bond by a unit', { neutral_earth_bond: 'u1' }, []],
  [
    'a unit that is called external',
    withUnits(lead, { ...follower, id: 'external' }),
    [['bond_ambiguous', 'neutral_earth_bond', "a unit's id"]],
  ],
  [
    'a band beside the nominal frequency',
    { island_frequency_band_hz: [50.5, 51] },
    [['frequency_band', 'island_frequency_band_hz', '50.5 to 51 Hz does not hold the nominal 50 Hz']],
  ],
  [
    'a band the wrong way round',
    { island_frequency_band_hz: [51, 49] },
    [['frequency_band', 'island_frequency_band_hz', '51 to 49']],
  ],
  [
    'a band that is no number',
    { island_frequency_band_hz: [Number.NaN, 51] },
    [['frequency_band', 'island_frequency_band_hz', 'NaN']],
  ],
  [
    'a voltage band beside nominal',
    { island_voltage_band_pct: [1, 10] },
    [['voltage_band', 'island_voltage_band_pct', '1 to 10 %']],
  ],
  ['a reserve above all there is', { reserve_soc_pct: 101 }, [['reserve_out_of_range', 'reserve_soc_pct', '101 %']]],
  [
    'a reserve that is no number',
    { reserve_soc_pct: Number.NaN },
    [['reserve_out_of_range', 'reserve_soc_pct', 'NaN']],
  ],
  ['AC-coupled PV in the default band', { ac_coupled_pv: true }, [['ac_pv_band', 'ac_coupled_pv', 'ends at 51 Hz']]],
  ['AC-coupled PV in a wider band', { ac_coupled_pv: true, island_frequency_band_hz: [49, 52] }, []],
  [
    'commissioned after the document holds',
    { commissioned: (record.validFrom! + 86_400_000) as SiteRecord['commissioned'] },
    [['commissioned_late', 'commissioned', 'commissioned on 2026-03-03']],
  ],
  [
    'commissioned before the document holds',
    { commissioned: (record.validFrom! - 86_400_000) as SiteRecord['commissioned'] },
    [],
  ],
];

describe('contradictionsOf', () => {
  test.each(CASES)('%s', (_, change, expected) => {
    const found = contradictionsOf({ ...record, ...change });
    expect(found.map(({ id, path, what }) => [id, path, what])).toEqual(
      expected.map(([id, path, says]) => [id, path, expect.stringContaining(says)]),
    );
    for (const one of found) {
      expect(one.severity).toBe(CONTRADICTIONS[one.id]);
      expect(one.where.startsWith('millpond, ')).toBe(true);
    }
  });

  test('every contradiction of the list is shown by a case above', () => {
    const shown = new Set(CASES.flatMap(([, , found]) => found.map(([id]) => id)));
    expect(Object.keys(CONTRADICTIONS).filter((id) => !shown.has(id as ContradictionId))).toEqual([]);
  });

  test("a habit of the trade leaves the last word to the maker's manual, and nothing else does", () => {
    const all = CASES.flatMap(([, change]) => contradictionsOf({ ...record, ...change }));
    for (const { severity, remedy } of all)
      expect(remedy.endsWith("unless the maker's manual says otherwise")).toBe(severity === 'habit');
  });
});

describe('checkSites', () => {
  test.each([
    ['role: follower', 'role: ‸lead', 'lead_count'],
    ['chain_position: 2', 'chain_position: ‸3', 'chain_gap'],
    ['neutral_earth_bond: { by: external }\n', '', 'bond_unsaid'],
    ['chain_position: 2\n    ', '', 'chain_incomplete'],
    ['[49.0, 51.0]', '‸[50.1, 51.0]', 'frequency_band'],
    ['pack: p1, unit: u1', 'pack: p1, unit: ‸u2', 'battery_link_to_follower'],
  ])('%j written as %j is found at its line and column', (instead, write, id) => {
    const { text, marks } = unmarked(millpondWith(instead, write));
    const found = checkSites([{ file: 'sites.yaml', text }]).contradictions.find((one) => one.id === id);
    // What is not there is shown at the map that lacks it.
    const place = id === 'bond_unsaid' ? '1:1' : id === 'chain_incomplete' ? '17:5' : marks[0];
    expect(`${found?.line}:${found?.column}`).toBe(place);
    expect(found?.where).toBe(`sites.yaml, line ${found?.line}, column ${found?.column}`);
  });

  test('two documents of a site clash across files, and the second is named', () => {
    const { histories, refusals } = checkSites([
      { file: 'a.yaml', text: MILLPOND },
      { file: 'b.yaml', text: MILLPOND },
    ]);
    expect(refusals.map(sayMistake)).toEqual([
      'b.yaml, line 2, column 13: millpond has a second document that is valid from 2026-03-02; give each document of a site a day of its own, or leave one out',
    ]);
    expect(histories.size).toBe(0);
  });
});
