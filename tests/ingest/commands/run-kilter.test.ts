import { describe, expect, test } from 'vitest';
import { checkSitesCommand } from '../../../ingest/commands/check-sites.ts';
import type { Command } from '../../../ingest/commands/command.ts';
import { demoCommand } from '../../../ingest/commands/demo.ts';
import { eventsCommand } from '../../../ingest/commands/events.ts';
import { findingsCommand } from '../../../ingest/commands/findings.ts';
import { importCommand } from '../../../ingest/commands/import.ts';
import { readingsCommand } from '../../../ingest/commands/readings.ts';
import { sayError } from '../../../ingest/commands/run-kilter.ts';
import { sqlCommand } from '../../../ingest/commands/sql.ts';
import { writeDemo } from '../../../ingest/demo/write-demo.ts';
import { NeedsOperator } from '../../../ingest/vocabulary/refusal.ts';
import { startCommands } from '../../../server/start.ts';
import { run } from './_stored.ts';

const ALL: readonly Command[] = [
  ...startCommands({ version: '0.0.0', env: {} }),
  importCommand,
  findingsCommand,
  eventsCommand,
  readingsCommand,
  sqlCommand,
  checkSitesCommand,
  demoCommand(writeDemo),
];

describe('runKilter', () => {
  test.each([[[]], [['help']], [['--help']], [['-h']]])('lists every command for %j', async (args) => {
    const { code, out, err } = await run(ALL, args);
    expect([code, err]).toEqual([0, []]);
    for (const { name, summary } of ALL) expect(out.join('\n')).toMatch(new RegExp(`  ${name} +${summary}`));
  });

  test.each(ALL.map(({ name }) => name))(
    'gives the help of %s in both ways, with an example of itself',
    async (name) => {
      const asked = await run(ALL, ['help', name]);
      const flagged = await run(ALL, [name, '--help']);
      expect(asked.code).toBe(0);
      expect(flagged).toEqual(asked);
      expect(asked.out[0]).toMatch(new RegExp(`^Usage: kilter ${name}`));
      expect(asked.out.slice(asked.out.indexOf('Examples:')).join('\n')).toContain(`  kilter ${name}`);
    },
  );

  test('says its version', async () => {
    expect((await run(ALL, ['--version'])).out).toEqual(['9.9.9']);
  });

  test('names the nearest command, or all of them', async () => {
    expect((await run(ALL, ['finding'])).err).toEqual([
      'kilter: there is no command "finding"; did you mean kilter findings?',
    ]);
    const { code, err } = await run(ALL, ['help', 'xyzzy']);
    expect(code).toBe(1);
    expect(err[0]).toContain('the commands are start, serve, ingest, import, findings');
  });
});

describe('sayError', () => {
  const broken = new TypeError('Cannot read a block\n of version 9');

  test('says what an operator must do in one line, and nothing of the program', () => {
    const error = new NeedsOperator({ where: 'a', what: 'b', remedy: 'c' }, { cause: broken });
    expect(sayError(error, false)).toEqual(['a: b; c']);
    expect(sayError(error, true)).toEqual(['a: b; c', broken.stack]);
  });

  test('says an unexpected error in one line, and where it came from only in debug mode', () => {
    expect(sayError(broken, false)).toEqual([
      'kilter: an unexpected error: Cannot read a block of version 9; set KILTER_DEBUG=1 and run it again to see where',
    ]);
    expect(sayError(broken, true)[1]).toBe(broken.stack);
    expect(sayError('odd', true)).toHaveLength(1);
  });
});
