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
        sources: [{ kind: 'folder', path: '/etc/kilter/incoming', columns: null }],
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
  - { kind: modbus, site: millpond }
  - { kind: fax, path: ./x }
`);
    const all = mistakes.join('\n');
    expect(all).toContain('kilter.yaml, line 1, column 1: "daata" is no key');
    expect(all).toContain('data is missing');
    expect(all).toContain('line 2, column 11: listen.port is 99999; give a port from 1 to 65535');
    expect(all).toMatch(/line 4.*path is missing; give the folder/);
    expect(all).toMatch(/line 5, column 7: sources of kind modbus are not read by this version/);
    expect(all).toMatch(/line 6.*kind is "fax"; write kind: folder/);
    expect(mistakes).toHaveLength(6);
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
