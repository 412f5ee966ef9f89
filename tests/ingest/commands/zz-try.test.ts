import { test } from 'vitest';
import { eventsCommand } from '../../../ingest/commands/events.ts';
import { findingsCommand } from '../../../ingest/commands/findings.ts';
import { readingsCommand } from '../../../ingest/commands/readings.ts';
import { sqlCommand } from '../../../ingest/commands/sql.ts';
import { millpondLines, run, storeLines } from './_stored.ts';

test('try', async () => {
  const folder = storeLines(millpondLines());
  const all = [findingsCommand, eventsCommand, readingsCommand, sqlCommand];
  for (const args of [
    ['findings', '--data', folder],
    ['findings', '--data', folder, '--json'],
    ['events', '--data', folder],
    ['events', '--data', folder, '--json'],
    ['findings', '--data', folder, '--as-of', '2026-03-10T00:30:00Z'],
    [
      'readings',
      '--data',
      folder,
      '--site',
      'millpond',
      '--unit',
      'u2',
      '--from',
      '2026-03-10T01:58:00Z',
      '--to',
      '2026-03-10T02:02:00Z',
    ],
    [
      'readings',
      '--data',
      folder,
      '--site',
      'millpond',
      '--unit',
      'u2',
      '--from',
      '2026-03-10T01:58:00Z',
      '--to',
      '2026-03-10T02:02:00Z',
      '--json',
    ],
    ['readings', '--data', folder, '--site', 'millpond', '--unit', 'u2', '--every', '1d', '--json'],
    ['readings', '--data', folder, '--site', 'millpond', '--pack', 'p2', '--every', '2h'],
    ['sql', '--data', folder, 'select * from findings'],
    ['sql', '--data', folder, '--json', 'select * from settings'],
    ['sql', '--data', folder, '--csv', 'select * from alarms'],
    ['sql', '--data', folder, '--csv', 'select * from sites'],
    ['sql', '--data', folder, '--json', "select * from unit_readings where unit='u2' limit 2"],
    [
      'sql',
      '--data',
      folder,
      "select unit, t/3600000*3600000 as h, typeof(t) ty, mode, avg(output_power_w) p, count(*) n from unit_readings where site='millpond' group by unit, h, mode",
    ],
    ['sql', '--data', folder, 'delete from findings'],
    ['sql', '--data', folder, 'select 1; select 2'],
    ['sql', '--data', folder, 'with x as (select 1) delete from sites'],
    ['sql', '--data', folder, 'select foo from sites'],
    ['findings', '--data', folder, '--site', 'milpond'],
    ['findings', '--data', folder, '--sit', 'millpond'],
    ['findngs'],
    [],
    ['help', 'sql'],
    ['findings', '--data', '/tmp/nonexist'],
  ]) {
    const r = await run(all, args);
    console.log(
      args.slice(0, 1).concat(args.slice(3)).join(' '),
      '->',
      r.code,
      '\n' + r.out.join('\n'),
      '\nERR ' + r.err.join('\nERR '),
    );
  }
});
