import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { readMqttConfig } from '../../../../ingest/sources/mqtt/mqtt-config.ts';
import { parsePlacedYaml } from '../../../../ingest/wire/yaml-mistakes.ts';

const folder = mkdtempSync(join(tmpdir(), 'kilter-mqtt-config-'));
writeFileSync(join(folder, 'ca.pem'), '-----BEGIN CERTIFICATE-----\n');
writeFileSync(join(folder, 'not.pem'), 'hello\n');
afterAll(() => rmSync(folder, { recursive: true }));

const read = (yaml: string, env: Record<string, string> = {}) => {
  const placed = parsePlacedYaml(yaml, 'kilter.yaml');
  const { config, faults } = readMqttConfig(placed.value, { folder, env });
  return { config, mistakes: placed.place(faults).map(({ where, what, remedy }) => `${where}: ${what}; ${remedy}`) };
};

const WHOLE = `kind: mqtt
url: mqtts://127.0.0.1:8883
protocol: 5
client_id: kilter-valley
username: valley
password_env: KILTER_MQTT_PASSWORD
ca_file: ./ca.pem
will: { topic: "gateways/gw-7/state", silent: millpond }
topics:
  - { reads: kilter }
  - reads: sparkplug
    group: valley
    nodes: { gw-7: { site: millpond, devices: { inv-a: { unit: u1 }, bat-1: { pack: p1 } } } }
    metrics: { "Output/Power": { quantity: output_power_w }, "Grid/Voltage": { quantity: grid_voltage_v, factor: 0.1 } }
  - reads: json
    topic: "plants/{site}/inverters/{unit}/state"
    time: { pointer: /ts, format: epoch_s }
    values:
      output_power_w: { pointer: /out/kw, factor: 1000 }
      mode: { pointer: /state, states: { "ON GRID": grid, "ISLAND": backup } }
`;

describe('readMqttConfig', () => {
  test('a node is asked to be born again only where the configuration says so', () => {
    const sparkplug = (more: string) =>
      read(
        `{ kind: mqtt, url: mqtt://localhost, topics: [{ reads: sparkplug, group: g, nodes: { n: { site: s, unit: u1 } }${more} }] }`,
      );
    expect(sparkplug('').config?.topics[0]).toMatchObject({ mayAskForBirth: false });
    expect(sparkplug(', rebirth: true').config?.topics[0]).toMatchObject({ mayAskForBirth: true });
    expect(String(sparkplug(', rebirth: maybe').mistakes)).toContain('write rebirth: true');
  });

  test('reads the example of the contract as plain data', () => {
    const { config, mistakes } = read(WHOLE, { KILTER_MQTT_PASSWORD: 'secret' });
    expect(mistakes).toEqual([]);
    expect(JSON.parse(JSON.stringify(config))).toEqual(config);
    expect(config).toMatchObject({
      kind: 'mqtt',
      name: 'mqtt 127.0.0.1:8883 as kilter-valley',
      clientId: 'kilter-valley',
      password: 'secret',
      caFile: join(folder, 'ca.pem'),
      wills: [{ topic: 'gateways/gw-7/state', silent: 'millpond' }],
      topics: [
        { reads: 'kilter' },
        {
          reads: 'sparkplug',
          group: 'valley',
          nodes: {
            'gw-7': {
              site: 'millpond',
              own: null,
              devices: { 'inv-a': { kind: 'unit', id: 'u1' }, 'bat-1': { kind: 'pack', id: 'p1' } },
            },
          },
          metrics: { 'Grid/Voltage': { quantity: 'grid_voltage_v', factor: 0.1, states: null } },
        },
        {
          reads: 'json',
          time: { pointer: '/ts', format: 'epoch_s' },
          values: [
            { quantity: 'output_power_w', pointer: '/out/kw', factor: 1000 },
            { quantity: 'mode', states: { 'ON GRID': 'grid', ISLAND: 'backup' } },
          ],
        },
      ],
    });
  });

  test('what is left out is MQTT 5, without a user and with a clean session', () => {
    expect(read('{ kind: mqtt, url: mqtt://localhost, topics: [{ reads: kilter }] }').config).toMatchObject({
      protocol: 5,
      clientId: null,
      username: null,
      password: null,
      wills: [],
    });
  });

  test('numbers as states of a topic map are texts of what is sent', () => {
    const { config } = read(
      'kind: mqtt\nurl: mqtt://h\ntopics:\n  - { reads: json, topic: "a/{unit}", site: a, values: { mode: { pointer: /m, states: { 2: grid } } } }',
    );
    expect(config?.topics[0]).toMatchObject({ values: [{ states: { '2': 'grid' } }] });
  });

  test('every mistake of shape is said at once, with its place and what would be right', () => {
    const { mistakes } = read(`kind: mqtt
url: mqtt://h
protocol: 3
clientid: x
topics:
  - { reads: fax }
  - { reads: json, topic: a, values: { mode: { pointer: out } } }
`);
    expect(mistakes).toHaveLength(4);
    expect(mistakes[0]).toMatch(/line 3, column 1: protocol is 3; give 5 for MQTT 5, or 4/);
    expect(mistakes[1]).toMatch(/line 4, column 1: "clientid" is no key/);
    expect(mistakes[2]).toMatch(/line 6.*write reads: kilter, reads: sparkplug or reads: json/);
    expect(mistakes[3]).toMatch(/line 7.*pointer is "out"; give a JSON pointer/);
  });

  test('and so is every mistake of meaning', () => {
    const { mistakes } = read(`kind: mqtt
url: http://valley:secret@h
password_env: NOT_SET
cert_file: ./ca.pem
ca_file: ./not.pem
will: { topic: "gw/state", silent: site }
topics:
  - { reads: json, topic: "a/{site}/{door}", values: {} }
  - { reads: json, topic: "a/{site}/{unit}", site: a, pack: p1, values: { output_power_w: { pointer: /w, states: { a: b } } } }
  - { reads: json, topic: "a/b", values: { soc_pct: { pointer: /s } } }
  - { reads: json, topic: "a/{site}", unit: u1, values: { mode: { pointer: /s, factor: 2, states: { x: lunch } }, speed: { pointer: /v } } }
  - { reads: sparkplug, group: g, nodes: { n: { site: a, devices: { d: {}, e: { unit: u1, pack: p1 } } }, m: { site: a } }, metrics: { W: { quantity: watts } } }
`);
    const all = mistakes.join('\n');
    expect(all).not.toContain('secret');
    for (const words of [
      'line 2, column 1: url is "http://…@h"',
      'the environment variable NOT_SET is not set',
      'a password is given without a user',
      'cert_file is given without key_file',
      'not.pem holds no PEM text',
      'silent is "site", and the topic names no {site}',
      '"{door}" names no level',
      'the site is named twice',
      'both unit and pack are named',
      'output_power_w is no quantity of a pack',
      'no site is named',
      'no source is named',
      'states gives "lunch" for "x"',
      'mode has words, and a factor',
      'speed is no quantity of a unit',
      'node m names no device',
      'watts is no quantity',
    ])
      expect(all).toContain(words);
  });

  test('files of TLS are a mistake where the url has none, and files must be there', () => {
    expect(read('{ kind: mqtt, url: mqtt://h, ca_file: ./ca.pem, topics: [{ reads: kilter }] }').mistakes[0]).toContain(
      'no TLS',
    );
    expect(
      read('{ kind: mqtt, url: mqtts://h, ca_file: ./gone.pem, topics: [{ reads: kilter }] }').mistakes[0],
    ).toContain('no such file');
    expect(read('{ kind: mqtt, url: mqtt://a:b@h, topics: [{ reads: kilter }] }').mistakes[0]).toContain(
      'holds a user or a password',
    );
  });
});
