import { describe, expect, test } from 'vitest';
import { sayRefusal } from '../../../../ingest/vocabulary/refusal.ts';
import { parseProfile, profileJsonSchema } from '../../../../ingest/wire/modbus/profile.ts';

/** The example of the contract, formats.md section 5. */
const CONTRACT = `profile: two-column
word_order: high_first          # or low_first
registers:
  - { quantity: output_power_w, table: holding, address: 30, type: int16 }
  - { quantity: battery_soc_pct, table: input, address: 12, type: uint16, factor: 0.1, absent: [65535] }
  - { quantity: grid_import_wh, table: input, address: 40, type: uint32, factor: 10 }
  - { quantity: mode, table: holding, address: 2, type: uint16, states: { 0: standby, 2: grid, 3: backup, 4: fault } }
  - { quantity: fault_code, table: holding, address: 3, type: uint16, bits: [0, 7] }
settings:
  - { key: battery_shared, table: holding, address: 120, type: uint16, states: { 0: false, 1: true } }
`;

const mistakesOf = (yaml: string): string[] => parseProfile(yaml, 'p.yaml').mistakes.map(sayRefusal);

describe('parseProfile', () => {
  test('takes the profile of the contract', () => {
    const { profile, mistakes } = parseProfile(CONTRACT, 'two-column.yaml');
    expect(mistakes).toEqual([]);
    expect(profile).toMatchObject({ profile: 'two-column', word_order: 'high_first', byte_order: 'high_first' });
    expect(profile?.registers).toHaveLength(5);
    // Plain data: it crosses a process.
    expect(JSON.parse(JSON.stringify(profile))).toEqual(profile);
  });

  test('says every mistake at once, each with line and column', () => {
    const yaml = `profile: odd
word_order: middle
registers:
  - { quantity: output_pwr_w, table: holding, address: 30, type: int16 }
  - { quantity: mode, table: holding, address: 2, type: uint16, states: { 0: standby, 2: gird, on: grid } }
  - { quantity: output_power_w, table: holdings, address: 70000, type: int24, fctor: 2 }
  - { quantity: grid_power_w, table: holding, address: 9, type: uint16, bits: [4, 20], states: { 0: grid } }
  - { quantity: grid_power_w, table: input, address: 65535, type: uint32 }
  - { quantity: soc_pct, table: coil, address: 1, type: float32 }
settings:
  - { key: firmware, table: holding, address: 1, type: string(0) }
  - { key: serial, table: holding, address: 1, type: string(4), factor: 2 }
`;
    const mistakes = mistakesOf(yaml);
    const lines = yaml.split('\n');
    const at = (line: number, text: string): string =>
      `p.yaml, line ${line}, column ${(lines[line - 1] ?? '').indexOf(text) + 1}`;
    expect(mistakes.map((said) => said.split(': ')[0])).toEqual([
      at(2, 'word_order'),
      at(4, 'quantity'),
      at(5, '2: gird'),
      at(5, 'on: grid'),
      at(6, 'table'),
      at(6, 'address'),
      at(6, 'type'),
      at(6, 'fctor'),
      at(7, 'bits'),
      at(7, 'states'),
      at(8, 'quantity'),
      at(8, 'address'),
      at(9, 'type'),
      at(11, 'type'),
      at(12, 'factor'),
    ]);
    expect(mistakes[1]).toContain('use one of output_voltage_v');
    expect(mistakes[2]).toContain('mode knows no "gird"; use one of off, standby');
  });

  test('a state needs its words, and a value its type', () => {
    expect(
      mistakesOf(`profile: p
registers:
  - { quantity: mode, table: holding, address: 2, type: uint16 }
  - { quantity: grid_power_w, table: holding, address: 2 }`),
    ).toEqual([
      'p.yaml, line 3, column 5: mode has no states; add which raw value means what: { 0: off, 1: standby }',
      'p.yaml, line 4, column 5: type is missing; add the type of the value, for example type: int16',
    ]);
  });

  test('a file that is no profile is said so, whatever it holds', () => {
    for (const text of [
      '',
      '[]',
      '7',
      'registers: 7',
      'profile: p\nregisters: [7, null]\nsettings: {}',
      '&a [*a, *a]',
    ]) {
      expect(parseProfile(text, 'p.yaml').profile).toBeNull();
      expect(mistakesOf(text).length).toBeGreaterThan(0);
    }
    expect(mistakesOf('profile: [')[0]).toMatch(/^p.yaml, line 1, column \d+: the YAML cannot be read/);
  });
});

describe('profileJsonSchema', () => {
  test('is a JSON Schema with every key of a register, made from what checks the profile', () => {
    const schema = JSON.parse(JSON.stringify(profileJsonSchema()));
    expect(schema.$schema).toContain('json-schema.org');
    expect(schema.required).toEqual(['profile', 'registers']);
    expect(Object.keys(schema.properties.registers.items.properties).sort()).toEqual(
      [
        ...['absent', 'address', 'bits', 'byte_order', 'factor', 'poll_group', 'quantity', 'scale_register'],
        ...['states', 'table', 'type', 'word_order'],
      ].sort(),
    );
    expect(schema.properties.registers.items.additionalProperties).toBe(false);
  });
});
