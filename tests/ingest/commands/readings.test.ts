import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readingsCommand } from '../../../ingest/commands/readings.ts';
import { at, dropFolder, type LogLine, parsed, run, storeLines } from './_stored.ts';

const LINES: readonly LogLine[] = [
  { t: at('10T23:58:00'), site: 'millpond', unit: 'u1', output_power_w: 100, grid_voltage_v: 229.8, mode: 'grid' },
  {
    t: at('10T23:59:30'),
    site: 'millpond',
    unit: 'u1',
    output_power_w: 301,
    mode: 'backup',
    door: 'open',
    fans: [1, 2],
  },
  { t: at('11T00:00:00'), site: 'millpond', unit: 'u1', output_power_w: -50, fault_code: 7 },
  { t: at('11T00:00:20'), site: 'millpond', unit: 'u1', grid_voltage_v: null, output_power_w: 51 },
  { t: at('11T00:05:00'), site: 'millpond', pack: 'p1', soc_pct: 71.5, pack_state: 'idle' },
  { t: at('11T00:05:00'), site: 'millpond', bank: 'bank', bank_soc_pct: 70 },
  { t: at('11T00:05:00'), site: 'millpond', meter: 'm1', meter_power_w: -5 },
];

let folder = '';
const readings = (...args: string[]) =>
  run([readingsCommand], ['readings', '--data', folder, '--site', 'millpond', ...args]);
beforeAll(() => {
  folder = storeLines(LINES);
});
afterAll(() => dropFolder(folder));

describe('kilter readings', () => {
  test('prints log lines again: states as words, absent left out, other keys kept', async () => {
    const { out, err, code } = await readings('--unit', 'u1', '--json');
    expect(code).toBe(0);
    expect(err).toEqual([]);
    expect(out.map((line) => JSON.parse(line) as unknown)).toEqual([
      {
        t: '2026-03-10T23:58:00.000Z',
        site: 'millpond',
        unit: 'u1',
        grid_voltage_v: 229.8,
        output_power_w: 100,
        mode: 'grid',
      },
      {
        t: '2026-03-10T23:59:30.000Z',
        site: 'millpond',
        unit: 'u1',
        output_power_w: 301,
        mode: 'backup',
        door: 'open',
        fans: [1, 2],
      },
      { t: '2026-03-11T00:00:00.000Z', site: 'millpond', unit: 'u1', output_power_w: -50, fault_code: 7 },
      { t: '2026-03-11T00:00:20.000Z', site: 'millpond', unit: 'u1', output_power_w: 51 },
    ]);
  });

  test('prints CSV with empty cells for what is absent, and says that other keys have no column', async () => {
    const { out, err } = await readings('--unit', 'u1', '--csv');
    expect(out).toEqual([
      't,site,unit,grid_voltage_v,output_power_w,mode,fault_code',
      '2026-03-10T23:58:00.000Z,millpond,u1,229.8,100,grid,',
      '2026-03-10T23:59:30.000Z,millpond,u1,,301,backup,',
      '2026-03-11T00:00:00.000Z,millpond,u1,,-50,,7',
      '2026-03-11T00:00:20.000Z,millpond,u1,,51,,',
    ]);
    expect(err[0]).toContain('1 readings have keys outside the vocabulary');
  });

  test('takes from the first time on and up to the last, which is not included', async () => {
    const { out } = await readings(
      '--unit',
      'u1',
      '--from',
      '2026-03-10T23:59:30Z',
      '--to',
      '2026-03-11T00:00:20Z',
      '--quantity',
      'output_power_w',
    );
    expect(out.slice(1)).toEqual([
      '2026-03-10T23:59:30.000Z,millpond,u1,301',
      '2026-03-11T00:00:00.000Z,millpond,u1,-50',
    ]);
    expect((await readings('--unit', 'u1', '--to', '2026-03-11', '--quantity', 'output_power_w')).out).toHaveLength(3);
  });

  test('gives least, mean and greatest of each UTC interval that has a reading', async () => {
    const { out, err } = await readings('--unit', 'u1', '--every', '1m', '--json');
    expect(err).toEqual(['mode is left out: words have no mean; without --every each reading is printed']);
    expect(out.map((line) => JSON.parse(line) as unknown)).toEqual([
      {
        t: '2026-03-10T23:58:00.000Z',
        site: 'millpond',
        unit: 'u1',
        grid_voltage_v: { min: 229.8, mean: 229.8, max: 229.8 },
        output_power_w: { min: 100, mean: 100, max: 100 },
      },
      {
        t: '2026-03-10T23:59:00.000Z',
        site: 'millpond',
        unit: 'u1',
        output_power_w: { min: 301, mean: 301, max: 301 },
      },
      {
        t: '2026-03-11T00:00:00.000Z',
        site: 'millpond',
        unit: 'u1',
        output_power_w: { min: -50, mean: 0.5, max: 51 },
        fault_code: { min: 7, mean: 7, max: 7 },
      },
    ]);
  });

  test('names the three figures of an interval in the CSV header', async () => {
    const { out } = await readings('--unit', 'u1', '--every', '1d', '--quantity', 'grid_voltage_v,output_power_w');
    expect(out).toEqual([
      't,site,unit,grid_voltage_v.min,grid_voltage_v.mean,grid_voltage_v.max,output_power_w.min,output_power_w.mean,output_power_w.max',
      '2026-03-10T00:00:00.000Z,millpond,u1,229.8,229.8,229.8,100,200.5,301',
      '2026-03-11T00:00:00.000Z,millpond,u1,,,,-50,0.5,51',
    ]);
  });

  test('reads packs, the bank and meters under their own key', async () => {
    expect(parsed(await readings('--pack', 'p1', '--json'))).toEqual([
      { t: '2026-03-11T00:05:00.000Z', site: 'millpond', pack: 'p1', soc_pct: 71.5, pack_state: 'idle' },
    ]);
    expect(parsed(await readings('--bank', '--json'))).toMatchObject([{ bank: 'bank', bank_soc_pct: 70 }]);
    expect(parsed(await readings('--meter', 'm1', '--json'))).toMatchObject([{ meter: 'm1', meter_power_w: -5 }]);
  });

  test('says on standard error that nothing is stored of a time', async () => {
    const { code, out, err } = await readings('--unit', 'u1', '--from', '2027-01-01', '--json');
    expect([code, out]).toEqual([0, []]);
    expect(err).toEqual(['millpond, unit u1: nothing is stored of the time asked for']);
  });

  test.each([
    [[], 'no source is asked for; give one of --unit U, --pack P, --bank, --meter M'],
    [['--unit', 'u1', '--bank'], '2 sources are asked for'],
    [['--unit', 'u7'], 'no unit "u7" of millpond has sent anything; did you mean u1?'],
    [['--pack', 'battery'], 'no pack "battery" of millpond has sent anything; there are p1'],
    [
      ['--unit', 'u1', '--quantity', 'output_power'],
      'a unit has no quantity "output_power"; did you mean output_power_w?',
    ],
    [['--unit', 'u1', '--quantity', ','], '--quantity names nothing'],
    [['--unit', 'u1', '--every', '7m'], '--every is "7m", and days do not divide into that'],
    [['--unit', 'u1', '--every', 'often'], 'give a duration in seconds, minutes, hours or days'],
    [['--unit', 'u1', '--every', '1m', '--quantity', 'mode'], 'mode has no mean'],
    [['--unit', 'u1', '--from', '2026-03-11', '--to', '2026-03-10'], '--to is not after --from'],
    [['--unit', 'u1', '--csv', '--json'], '--csv and --json are both given'],
  ])('refuses %j in one line', async (args, message) => {
    const { code, out, err } = await readings(...args);
    expect([code, out]).toEqual([1, []]);
    expect(err).toHaveLength(1);
    expect(err[0]).toContain(message);
  });
});
