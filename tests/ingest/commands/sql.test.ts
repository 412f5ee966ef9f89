import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { distinct, sqlCommand } from '../../../ingest/commands/sql.ts';
import { dropFolder, millpondLines, parsed, run, storeLines } from './_stored.ts';

let folder = '';
const sql = (...args: string[]) => run([sqlCommand], ['sql', '--data', folder, ...args]);
const rows = async (statement: string) => parsed(await sql('--json', statement));
beforeAll(() => {
  folder = storeLines([
    ...millpondLines(),
    { t: '2026-03-10T04:00:00Z', site: 'millpond', bank: 'bank', bank_soc_pct: 70 },
    { t: '2026-03-10T04:00:00Z', site: 'millpond', meter: 'm1', meter_power_w: 12, hall: 'b' },
  ]);
});
afterAll(() => dropFolder(folder));

describe('kilter sql', () => {
  test('shows readings in their own units, states as words, what is absent as NULL', async () => {
    const [row] = await rows("select * from unit_readings where unit = 'u1' and mode = 'backup' limit 1");
    expect(row).toMatchObject({
      site: 'millpond',
      unit: 'u1',
      t: Date.parse('2026-03-10T02:00:00Z'),
      grid_voltage_v: 0,
      output_voltage_v: 230,
      output_frequency_hz: 50.01,
      grid_frequency_hz: null,
      mode: 'backup',
      extra: null,
    });
    expect(await rows('select distinct pack, pack_voltage_v, pack_current_a from pack_readings')).toEqual([
      { pack: 'p1', pack_voltage_v: 53.24, pack_current_a: -4.2 },
      { pack: 'p2', pack_voltage_v: 53.24, pack_current_a: -4.2 },
    ]);
    expect(await rows('select bank, bank_soc_pct from bank_readings')).toEqual([{ bank: 'bank', bank_soc_pct: 70 }]);
    expect(await rows("select meter_power_w, extra ->> 'hall' as hall from meter_readings")).toEqual([
      { meter_power_w: 12, hall: 'b' },
    ]);
  });

  test('holds times as integers, so that they divide as such', async () => {
    const hours = await rows(
      "select t / 3600000 * 3600000 as hour, count(*) as n from unit_readings where site = 'millpond' and unit = 'u2' group by hour",
    );
    expect(hours.map(({ n }) => n)).toEqual([60, 60, 60, 60, 60, 60, 60]);
    expect(hours[0]).toEqual({ hour: Date.parse('2026-03-10T00:00:00Z'), n: 60 });
  });

  test('finds columns that are meant without being named', async () => {
    expect(await rows('with r as (select * from unit_readings) select max(output_power_w) as p from r')).toEqual([
      { p: 1200 },
    ]);
    const natural = await rows(
      "select count(*) as n from (select site, unit, t, output_power_w from unit_readings where unit = 'u1') natural join unit_readings",
    );
    expect(natural).toEqual([{ n: 481 }]);
  });

  test('joins units by time without reading one again for each row of the other', async () => {
    const startedMs = performance.now();
    const joined = await rows(
      `select count(*) as n, min(a.output_power_w + b.output_power_w) as p from unit_readings a join unit_readings b using (site, t)
       where a.unit = 'u1' and b.unit = 'u2' and site = 'millpond'`,
    );
    expect(joined).toEqual([{ n: 420, p: 2300 }]);
    // Row by row it takes minutes.
    expect(performance.now() - startedMs).toBeLessThan(5000);
  });

  test('brings findings and events up to date and shows them with times in milliseconds', async () => {
    const [silence] = await rows(
      `select kind, subject, start, "end", "limit", json_valid(evidence) as v from findings where kind = 'unit_silent'`,
    );
    expect(silence).toEqual({
      kind: 'unit_silent',
      subject: 'u2',
      start: Date.parse('2026-03-10T04:59:00Z'),
      end: Date.parse('2026-03-10T06:00:00Z'),
      limit: 10,
      v: 1,
    });
    expect(await rows('select site, start, duration_s, held from events')).toEqual([
      { site: 'millpond', start: Date.parse('2026-03-10T02:00:00Z'), duration_s: 3600, held: 1 },
    ]);
  });

  test('knows sites, settings and alarms', async () => {
    expect(await rows('select site, name, units from sites')).toEqual([
      { site: 'millpond', name: 'Millpond Clinic', units: 2 },
      { site: 'sawpit', name: null, units: null },
    ]);
    expect(
      await rows("select unit, value from settings where key = 'battery_type' and unit = 'u2' order by t"),
    ).toEqual([
      { unit: 'u2', value: 'lithium' },
      { unit: 'u2', value: 'lead' },
    ]);
    expect(await rows('select unit, pack, t, alarm, state from alarms')).toEqual([
      { unit: 'u2', pack: null, t: Date.parse('2026-03-10T04:00:00Z'), alarm: 'over temperature', state: 'raised' },
    ]);
  });

  test('prints CSV and a table of the same rows', async () => {
    const statement = "select 'a,b' as x, 1.5 as y, null as z union all select 'q\"', 20, 'n'";
    expect((await sql('--csv', statement)).out).toEqual(['x,y,z', '"a,b",1.5,', '"q""",20,n']);
    const { out, err } = await sql(statement);
    expect(out).toEqual(['x      y  z', 'a,b  1.5', 'q"    20  n']);
    expect(err).toEqual(['2 rows']);
  });

  test.each([
    ['delete from findings', '"delete" does not ask for anything'],
    ["attach database 'x.sqlite' as x", '"attach" does not ask for anything'],
    ['pragma table_list', '"pragma" does not ask for anything'],
    ["vacuum into 'x.sqlite'", '"vacuum" does not ask for anything'],
    ['with x as (select 1) delete from _sources returning site', 'the statement changes something'],
    ['select 1; select 2', 'there is more than one statement'],
    ['/* nothing */', 'there is no statement'],
    ['select output_power from unit_readings', 'no such column: output_power; did you mean output_power_w?'],
    ['select * from unit_reading', 'no such table: unit_reading; did you mean unit_readings?'],
    ['select limit from findings', 'write "end", "limit", "group" in double quotes'],
    ['select * from blocks', 'no such table: blocks'],
  ])('refuses %j in words', async (statement, message) => {
    const { code, out, err } = await sql(statement);
    expect([code, out]).toEqual([1, []]);
    expect(err).toHaveLength(1);
    expect(err[0]).toContain(message);
  });

  test('asks for one statement in one pair of quotes', async () => {
    expect((await sql()).err[0]).toContain('there is no statement');
    expect((await sql('select', '1')).err[0]).toContain('"1" stands outside the statement');
  });
});

describe('distinct', () => {
  test('numbers a name that is given again, so that no value of a row is lost', () => {
    expect(distinct(['t', 'a', 't', 't'])).toEqual(['t', 'a', 't_2', 't_3']);
  });
});
