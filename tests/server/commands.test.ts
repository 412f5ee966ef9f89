import { spawnSync } from 'node:child_process';
import { describe, expect, test } from 'vitest';
import { commandsFor, KNOWN_COMMANDS } from '../../server/commands.ts';

const HOUSE = {
  version: '0.0.0',
  env: {},
  writeDemo: async () => async () => Promise.reject(new Error('not asked for')),
};

describe('commands', () => {
  test('what the help says of a command that is not loaded is what the command says of itself', async () => {
    for (const { name, summary, load } of KNOWN_COMMANDS) {
      const loaded = await load(HOUSE);
      expect([loaded.name, loaded.summary]).toEqual([name, summary]);
    }
  });

  test('a command that is named comes with its usage, wherever it stands on the line', async () => {
    const commands = await commandsFor(['help', 'readings'], HOUSE);
    expect(commands.map(({ name }) => name)).toEqual(KNOWN_COMMANDS.map(({ name }) => name));
    expect(commands.find(({ name }) => name === 'readings')?.usage).toContain('Usage: kilter readings');
  });

  test('a command that reads the store loads no library of a broker or a device', () => {
    const script = `
      const { commandsFor } = await import('./dist/server/commands.js');
      await commandsFor(['findings'], { version: '', env: {} });
      const { createRequire } = await import('node:module');
      const loaded = Object.keys(createRequire(process.cwd() + '/x.js').cache);
      process.stdout.write(JSON.stringify(loaded.filter((path) => /node_modules\\/(mqtt|modbus-serial|serialport|aedes)\\//.test(path))));
    `;
    const { stdout } = spawnSync(process.execPath, ['--input-type=module', '-e', script], { encoding: 'utf8' });
    expect(JSON.parse(stdout)).toEqual([]);
  });
});
