import { describe, expect, test } from 'vitest';
import { type DemoFleet, demoCommand, PLAIN_FLEET, readFleet } from '../../../ingest/commands/demo.ts';
import { run } from './_stored.ts';

describe('kilter demo', () => {
  test('hands the options on to the writer and tells what to do next', async () => {
    const asked: DemoFleet[] = [];
    const demo = demoCommand(async (fleet) => {
      asked.push(fleet);
      fleet.say('writing');
      return { sitesFile: 'x/sites.yaml', files: ['a', 'b'], readings: 7 };
    });
    const args = ['--out', 'x', '--seed', '9', '--days', '3', '--sites', '2', '--every', '10s', '--from', '2026-05-01'];
    const { code, out, err } = await run([demo], ['demo', ...args, '--gzip', '--format', 'csv']);
    expect([code, out]).toEqual([0, []]);
    expect(asked).toMatchObject([
      { out: 'x', seed: 9, days: 3, sites: 2, everyS: 10, from: Date.UTC(2026, 4, 1), gzip: true, format: 'csv' },
    ]);
    expect(err).toEqual([
      'writing',
      '7 readings in 2 files',
      'next: kilter import --data ./data --sites x/sites.yaml x',
    ]);
  });

  test('has a plain fleet for what is not said', () => {
    expect(readFleet(['--out', 'x'])).toEqual({ ...PLAIN_FLEET, out: 'x' });
  });

  test.each([
    [['--every', '7s'], '--every is "7s"; give a time from 5s that divides a day'],
    [['--every', '1s'], 'give a time from 5s'],
    [['--from', '2026-05-01T01:00:00Z'], 'the demo begins at midnight UTC'],
    [['--days', '0'], '--days is "0"'],
    [['--format', 'xml'], '--format is "xml"'],
  ])('refuses %j in words', (args, message) => {
    expect(() => readFleet(['--out', 'x', ...args])).toThrow(message);
  });

  test('asks where to write', () => {
    expect(() => readFleet([])).toThrow('--out is missing');
  });
});
