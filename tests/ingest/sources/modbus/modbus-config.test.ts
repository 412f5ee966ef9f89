import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readModbusConfig } from '../../../../ingest/sources/modbus/modbus-config.ts';
import { parsePlacedYaml } from '../../../../ingest/wire/yaml-mistakes.ts';

const folder = mkdtempSync(join(tmpdir(), 'kilter-modbus-config-'));
const PROFILE = `profile: two-column
word_order: low_first
registers:
  - { quantity: output_power_w, table: holding, address: 30, type: int16 }
`;

beforeAll(() => {
  writeFileSync(join(folder, 'two-column.yaml'), PROFILE);
  writeFileSync(join(folder, 'bad.yaml'), PROFILE.replace('table: holding', 'table: shelf'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const read = (yaml: string) => readModbusConfig(parsePlacedYaml(yaml, 'kilter.yaml').value, { folder, env: {} });
const mistakesOf = (yaml: string): string[] => {
  const placed = parsePlacedYaml(yaml, 'kilter.yaml');
  const { config, faults } = readModbusConfig(placed.value, { folder, env: {} });
  if (faults.length > 0) expect(config).toBeNull();
  return placed.place(faults).map(({ where, what, remedy }) => `${where}: ${what}; ${remedy}`);
};
const source = (connect: string, devices = '[{ unit: u1, address: 1, reads: sunspec }]', more = ''): string =>
  `kind: modbus\nsite: millpond\nconnect: ${connect}\n${more}devices: ${devices}\n`;

describe('readModbusConfig', () => {
  test('reads the example of the contract, profiles and all, into plain data', () => {
    const { config, faults } = read(`kind: modbus
site: millpond
connect: { tcp: "127.0.0.1:502" }
every_s: 10
timeout_ms: 1000
devices:
  - { unit: u1, address: 1, reads: sunspec }
  - { unit: u2, address: 2, reads: ./two-column.yaml }
  - { pack: p1, address: 11, reads: sunspec, current_sign: charge_positive }
  - { packs: [p2, p3], strings: [1, 2], address: 12, reads: sunspec }
`);
    expect(faults).toEqual([]);
    expect(config).toMatchObject({
      kind: 'modbus',
      name: 'modbus 127.0.0.1:502 millpond u1',
      target: { kind: 'tcp', host: '127.0.0.1', port: 502 },
      everyMs: 10_000,
      timeoutMs: 1000,
      devices: [
        { name: 'u1 at address 1', address: 1, config: { site: 'millpond', unit: 'u1', reads: 'sunspec' } },
        {
          name: 'u2 at address 2',
          config: { unit: 'u2', reads: { profile: { profile: 'two-column', word_order: 'low_first' } } },
        },
        { name: 'p1 at address 11', config: { pack: 'p1', current_sign: 'charge_positive' } },
        { name: 'p2, p3 at address 12', config: { packs: ['p2', 'p3'], strings: [1, 2] } },
      ],
    });
    expect(JSON.parse(JSON.stringify(config))).toEqual(config);
  });

  test.each([
    ['{ tcp: 10.0.0.7 }', { kind: 'tcp', host: '10.0.0.7', port: 502 }],
    ['{ tcp: "[fd00::7]:1502" }', { kind: 'tcp', host: 'fd00::7', port: 1502 }],
    ['{ rtu_over_tcp: "gateway.local:4001" }', { kind: 'rtu_over_tcp', host: 'gateway.local', port: 4001 }],
    [
      '{ serial: /dev/ttyUSB0, baud: 19200, parity: even, stop_bits: 2 }',
      { kind: 'serial', path: '/dev/ttyUSB0', baud: 19_200, parity: 'even', dataBits: 8, stopBits: 2 },
    ],
    [
      '{ serial: /dev/ttyS1 }',
      { kind: 'serial', path: '/dev/ttyS1', baud: 9600, parity: 'none', dataBits: 8, stopBits: 1 },
    ],
  ])('connects by %s', (connect, target) => {
    expect(read(source(connect)).config?.target).toEqual(target);
  });

  test('says every mistake, each with its place and what would be right', () => {
    const all = mistakesOf(`kind: modbus
site: Mill Pond
connect: { tcp: "127.0.0.1:502", speed: 9600 }
every_s: 0
timeout_ms: fast
devices:
  - { unit: u1, address: 248, reads: sunspec }
  - { unit: u2, reads: sunspec }
  - { unit: u3, address: 3 }
`).join('\n');
    expect(all).toMatch(/line 2, column 1: site is "Mill Pond"; give the id of the site/);
    expect(all).toMatch(/line 3, column 34: "speed" is no key of connect/);
    expect(all).toMatch(/line 4, column 1: every_s is 0; give the seconds/);
    expect(all).toMatch(/line 5, column 1: timeout_ms is "fast"; give the milliseconds/);
    expect(all).toMatch(/line 7, column 17: devices\.0\.address is 248; give the unit address: 1 to 247/);
    expect(all).toMatch(/line 8.*devices\.1\.address is missing/);
    expect(all).toMatch(/line 9.*devices\.2\.reads is missing; write reads: sunspec, or the file/);
  });

  test.each([
    ['{ tcp: "a:1", serial: /dev/ttyUSB0 }', /both tcp and serial are given; give one/],
    ['{ }', /connect names no way to the devices/],
    ['{ tcp: "a:1", baud: 9600 }', /baud says nothing beside tcp; take it out/],
    ['{ tcp: "http://a:502" }', /tcp is "http:\/\/a:502"; give host:port/],
    ['{ tcp: "a:70000" }', /tcp is "a:70000"; give host:port/],
    ['{ rtu_over_tcp: gateway }', /rtu_over_tcp is "gateway"; give host:port/],
    ['{ serial: /dev/ttyUSB0, baud: 12 }', /connect\.baud is 12; give the bits per second/],
  ])('refuses connect: %s', (connect, mistake) => {
    expect(mistakesOf(source(connect)).join('\n')).toMatch(mistake);
  });

  test('addresses 0 and 255 are those of network devices', () => {
    const devices = '[{ unit: u1, address: 0, reads: sunspec }, { unit: u2, address: 255, reads: sunspec }]';
    expect(mistakesOf(source('{ tcp: a }', devices))).toEqual([]);
    expect(mistakesOf(source('{ serial: /dev/ttyUSB0 }', devices))).toHaveLength(2);
  });

  test('mistakes of a profile are said with their own file, line and column, once', () => {
    const devices = '[{ unit: u1, address: 1, reads: ./bad.yaml }, { unit: u2, address: 2, reads: ./bad.yaml }]';
    const mistakes = mistakesOf(source('{ tcp: a }', devices));
    expect(mistakes).toHaveLength(1);
    expect(mistakes[0]).toMatch(/^kilter\.yaml, line 4.*bad\.yaml, line 4, column \d+: .*"shelf"; give one of holding/);
    expect(mistakesOf(source('{ tcp: a }', '[{ unit: u1, address: 1, reads: ./none.yaml }]')).join()).toMatch(
      /no such file.*write reads: sunspec, or the file of a register profile/,
    );
  });

  test('in a short cadence a device may take half of it, where nothing else is written', () => {
    expect(read(source('{ tcp: a }', undefined, 'every_s: 1\n')).config?.timeoutMs).toBe(500);
    expect(read(source('{ tcp: a }', undefined, 'every_s: 1\ntimeout_ms: 900\n')).config?.timeoutMs).toBe(900);
    expect(read(source('{ tcp: a }')).config?.timeoutMs).toBe(1000);
  });

  test('a serial port has one name, and a host as many as there are sources on it', () => {
    const names = ['u1', 'u2'].flatMap((unit) =>
      ['{ serial: /dev/ttyUSB0 }', '{ tcp: a }'].map(
        (connect) => read(source(connect, `[{ unit: ${unit}, address: 1, reads: sunspec }]`)).config?.name,
      ),
    );
    expect(new Set(names)).toEqual(
      new Set(['modbus /dev/ttyUSB0', 'modbus a:502 millpond u1', 'modbus a:502 millpond u2']),
    );
  });
});
