import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { isLoopback, parseConfig, readConfig } from '../../../server/process/read-config.ts';

const mistakesOf = (yaml: string, env: Record<string, string> = {}) => {
  const read = parseConfig(yaml, '/etc/kilter/kilter.yaml', env);
  if ('config' in read) throw new RangeError('Cannot list mistakes: there are none');
  return read.mistakes.map(({ where, what, remedy }) => `${where}: ${what}; ${remedy}`);
};

describe('parseConfig', () => {
  test('reads a whole configuration; paths are those beside the file', () => {
    const yaml = `data: ./data
listen: { host: 0.0.0.0, port: 9000, token_env: KILTER_TOKEN }
sites: ./sites.yaml
sources:
  - { kind: folder, path: ./incoming }
`;
    expect(parseConfig(yaml, '/etc/kilter/kilter.yaml', { KILTER_TOKEN: 'secret' })).toEqual({
      config: {
        data: '/etc/kilter/data',
        listen: { host: '0.0.0.0', port: 9000, token: 'secret' },
        sites: ['/etc/kilter/sites.yaml'],
        sources: [{ kind: 'folder', name: 'folder ./incoming', path: '/etc/kilter/incoming', columns: null }],
        courier: null,
      },
    });
  });

  test('what is left out is safe: loopback, no token, no sources', () => {
    const read = parseConfig('data: ./data', '/etc/kilter.yaml', {});
    expect(read).toMatchObject({ config: { listen: { host: '127.0.0.1', port: 8090, token: null }, sources: [] } });
  });

  test('says every mistake at once, each with its line and what would be right', () => {
    const mistakes = mistakesOf(`daata: ./data
listen: { port: 99999 }
sources:
  - { kind: folder }
  - { kind: push, tokens: [{ name: gw, token_env: NOT_SET, sites: [Millpond] }] }
  - { kind: fax, path: ./x }
  - { kind: mqtt, url: "http://127.0.0.1", topics: [{ reads: kilter }] }
  - fax
`);
    const all = mistakes.join('\n');
    expect(all).toContain('kilter.yaml, line 1, column 1: "daata" is no key');
    expect(all).toContain('data is missing');
    expect(all).toContain('line 2, column 11: listen.port is 99999; give a port from 1 to 65535');
    expect(all).toMatch(/line 4.*path is missing; give the folder/);
    expect(all).toMatch(/line 5, column 68: tokens\.0\.sites\.0 is "Millpond"; give the id of a site/);
    expect(all).toMatch(/line 6.*kind is "fax"; write kind: folder, push, modbus or mqtt/);
    expect(all).toMatch(/line 7.*url is "http:\/\/127\.0\.0\.1"; give mqtts/);
    expect(all).toMatch(/line 8.*a source is "fax"; write \{ kind: folder/);
    expect(mistakes).toHaveLength(8);
  });

  test('tokens come from the environment, are never said, and belong to one gateway each', () => {
    const push = (tokens: string): string => `data: d\nsources:\n  - { kind: push, tokens: [${tokens}] }`;
    const valley = '{ name: valley, token_env: VALLEY, sites: [millpond, sawpit] }';
    expect(parseConfig(push(valley), '/etc/kilter.yaml', { VALLEY: 'river stone' })).toMatchObject({
      config: {
        sources: [
          {
            kind: 'push',
            name: 'push',
            tokens: [{ name: 'valley', token: 'river stone', sites: ['millpond', 'sawpit'] }],
          },
        ],
      },
    });
    expect(mistakesOf(push(valley))).toEqual([
      expect.stringMatching(
        /line 3, column 44: the environment variable VALLEY is not set; set it to a long random text/,
      ),
    ]);
    const twice = mistakesOf(push(`${valley}, { name: valley, token_env: HILL, sites: [hill] }`), {
      VALLEY: 'river stone',
      HILL: 'river stone',
    }).join('\n');
    expect(twice).toContain('two tokens are named valley');
    expect(twice).toContain('two gateways have the same token');
    expect(twice).not.toContain('river stone');
  });

  test('two sources of one name are a mistake of the second', () => {
    const [mistake] = mistakesOf('data: d\nsources:\n  - { kind: push }\n  - { kind: push }');
    expect(mistake).toMatch(/line 4.*two sources are push; put them together in one/);
  });

  test('two mqtt sources that are one client to one broker are a mistake of the second, by whatever name it is called', () => {
    const mqtt = (url: string, id: string) =>
      `  - { kind: mqtt, url: "${url}", client_id: ${id}, topics: [{ reads: kilter }] }`;
    const both = (a: string, b: string) => `data: d\nsources:\n${a}\n${b}`;
    const [mistake] = mistakesOf(both(mqtt('mqtt://localhost', 'valley'), mqtt('mqtt://127.0.0.1:1883', 'valley')));
    expect(mistake).toMatch(/line 4, column \d+: mqtt localhost as valley has this client_id at the same broker/);
    for (const other of [mqtt('mqtt://127.0.0.1:1884', 'valley'), mqtt('mqtt://localhost', 'hill')]) {
      expect(
        parseConfig(both(mqtt('mqtt://localhost', 'valley'), other), '/etc/kilter/kilter.yaml', {}),
      ).toHaveProperty('config');
    }
  });

  test('a courier needs somewhere to forward to and no data folder; it takes no pushes', () => {
    const read = (yaml: string, env = {}) => parseConfig(yaml, '/etc/kilter.yaml', env, 'courier');
    const whole = `listen: { token_env: ONLY_AT_THE_SERVER }
sources: [{ kind: folder, path: ./logs }]
forward: { push: "https://board.example/api/readings", token_env: GARDEN, name: garden }
queue: { path: ./kept, max_mb: 64 }`;
    expect(read(whole, { GARDEN: 'x' })).toMatchObject({
      config: {
        courier: {
          name: 'garden',
          forward: { kind: 'push', url: 'https://board.example/api/readings', token: 'x' },
          queue: { path: '/etc/kept', maxBytes: 64 * 1024 * 1024 },
        },
      },
    });
    const wrong = read('sources: [{ kind: push }]\nqueue: { max_mb: 1 }');
    expect('mistakes' in wrong && wrong.mistakes.map(({ what }) => what)).toEqual(
      expect.arrayContaining(['forward is missing', 'queue.max_mb is 1', 'a courier takes no pushed readings']),
    );
    const both = read('forward: { push: "ftp://x", mqtt: { url: "mqtt://127.0.0.1", topics: [] } }');
    expect('mistakes' in both && both.mistakes.map(({ what }) => what)).toEqual([
      'both push and mqtt are given',
      'push is "ftp://x"',
      'topics says nothing in a forward',
    ]);
  });

  test('an address that others can reach needs a token, and the token must be set', () => {
    expect(mistakesOf('data: d\nlisten: { host: 192.168.1.4 }')[0]).toMatch(/line 2.*no token is configured/);
    expect(mistakesOf('data: d\nlisten: { host: 192.168.1.4, token_env: T }')[0]).toContain('variable T is not set');
    expect(parseConfig('data: d\nlisten: { host: 192.168.1.4, token_env: T }', 'k.yaml', { T: 'x' })).toHaveProperty(
      'config',
    );
  });

  test('broken YAML is said as such', () => {
    expect(mistakesOf('data: [')[0]).toContain('the YAML cannot be read');
  });

  test('knows loopback by its names', () => {
    expect(['127.0.0.1', '127.1.2.3', 'localhost', '::1'].every(isLoopback)).toBe(true);
    expect(['0.0.0.0', '10.0.0.1', 'localhost.example', '128.0.0.1', '::'].some(isLoopback)).toBe(false);
  });
});

describe('readConfig', () => {
  test('throws once with all mistakes, and says where there is no file', () => {
    const folder = mkdtempSync(join(tmpdir(), 'kilter-config-'));
    const file = join(folder, 'kilter.yaml');
    expect(() => readConfig(file, {})).toThrow('there is no such file');
    writeFileSync(file, 'listen: { port: x }\n');
    expect(() => readConfig(file, {})).toThrow(/data is missing[\s\S]*listen\.port[\s\S]*2 mistakes keep/);
    rmSync(folder, { recursive: true });
  });
});
