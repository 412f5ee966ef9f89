import { describe, expect, test } from 'vitest';
import { parseTime } from '../../../ingest/vocabulary/time.ts';
import type { Cover } from '../../../server/contract/cover.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import {
  clockMinutes,
  sayBackupNow,
  sayCovered,
  sayCoverGround,
  saySupplyPeriod,
  supplyRows,
} from '../../../server/views/say-cover.ts';

type Autonomy = NonNullable<Cover['autonomy']>;
/** Monday in summer time: 16:00 on the clock in Vienna. */
const NOW = parseTime('2026-06-01T14:00:00Z')!;
const saying = { words: ENGLISH, zone: 'Europe/Vienna', now: NOW };
const plain = (text: string): string => text.replaceAll(/[\u00a0\u202f]/g, ' ');
const evening = (watts: number, late: number) =>
  Array.from({ length: 168 }, (_, hour) => (hour % 24 >= 18 ? late : watts));
const autonomy = (more: Partial<Autonomy> = {}): Autonomy => ({
  site: 'oxholm-clinic',
  at: NOW - 60_000,
  socPct: 80,
  reservePct: 20,
  isReserveAssumed: false,
  outputWhPerPoint: 100,
  isEnergyLearnt: true,
  usableWh: 6000,
  loadP50W: evening(500, 1000),
  loadP90W: evening(1000, 2000),
  chargeP50Pct: Array.from({ length: 24 }, () => 80),
  chargeP10Pct: Array.from({ length: 24 }, () => 60),
  backTests: [],
  because: null,
  ...more,
});

describe('how long a site carries itself', () => {
  test('walks the hours of the site’s own time from now on', () => {
    // 16:00 to 18:00 at 500 W, then 5 kWh at 1 kW; at high use 2 h at 1 kW and 2 h at 2 kW.
    expect(plain(sayBackupNow(autonomy(), 'Europe/Vienna', saying))).toBe(
      'With 80 % in the battery it carries itself for about 7 h at usual use, 4 h at high use.',
    );
    // Read in another zone's clock the site's evening stays the site's evening.
    expect(plain(sayBackupNow(autonomy(), 'Europe/Vienna', { ...saying, zone: 'UTC' }))).toContain('about 7 h');
  });

  test('says why it can’t be told', () => {
    const because = 'no charge of the battery is reported';
    expect(sayBackupNow(autonomy({ because, usableWh: null }), 'Europe/Vienna', saying)).toBe(
      `How long it carries itself can’t be told: ${because}.`,
    );
  });

  test('never passes a charge off as now that is hours old, though the analysis took it for fresh', () => {
    const old = autonomy({ at: NOW - 3 * 3_600_000 });
    expect(sayBackupNow(old, 'Europe/Vienna', saying)).toBe(
      'How long it carries itself can’t be told: the charge of the battery is older than two hours.',
    );
  });

  test('says on what it rests and how right it was', () => {
    const backTests = [0.1, -0.3, 0.05].map((error) => ({ start: NOW, hours: 2, error }));
    expect(sayCoverGround(autonomy({ backTests }), saying).map(plain)).toEqual([
      'A point of charge gives about 100 Wh at the output, by its own outages.',
      'Reckoned down to the reserve of 20 %.',
      'Held against its last three outages the estimate was off by 10 % in the median, 30 % at most.',
    ]);
    expect(sayCoverGround(autonomy({ isEnergyLearnt: false, isReserveAssumed: true }), saying).map(plain)).toEqual([
      'A point of charge is reckoned to give 100 Wh at the output: capacity, health and a usual loss of conversion.',
      'The record names no reserve: reckoned down to 20 %.',
      'No outage of its own yet to hold this against.',
    ]);
  });
});

describe('would a window of today be covered', () => {
  const window = (from: string, to: string) => ({
    from: clockMinutes(from)!,
    to: clockMinutes(to)!,
    text: [from, to] as const,
  });
  const ask = (from: string, to: string, more: Partial<Autonomy> = {}) => {
    const { text, isCovered } = sayCovered(autonomy(more), 'Europe/Vienna', window(from, to), saying);
    return [isCovered, plain(text)];
  };

  test('yes, where even high use and a low charge are enough', () => {
    expect(ask('18:00', '19:30')).toEqual([
      true,
      'Yes. From 18:00 to 19:30 even high use takes 3.00 kWh, and 4.00 kWh are there on nine days of ten.',
    ]);
  });

  test('usually, and no', () => {
    expect(ask('18:00', '22:30')).toEqual([
      null,
      'Usually. From 18:00 to 22:30 usual use takes 4.50 kWh of the usual 6.00 kWh; high use would take 9.00 kWh, and on one day of ten no more than 4.00 kWh are there.',
    ]);
    expect(ask('18:00', '00:00')[0]).toBe(null);
    expect(ask('16:00', '15:00')[0]).toBe(false);
  });

  test('a window of no length is a whole day, and what is not known is said', () => {
    expect(ask('06:00', '06:00')[0]).toBe(false);
    expect(ask('18:00', '22:30', { outputWhPerPoint: null })).toEqual([null, 'That can’t be told yet.']);
    expect([clockMinutes('25:00'), clockMinutes('7'), clockMinutes('07:05')]).toEqual([null, null, 425]);
  });
});

test('supply: the grid and the output as a table, and what is not known', () => {
  const reliability = {
    from: parseTime('2026-03-03T00:00:00Z')!,
    to: NOW,
    grid: { sustained: 12, sustainedMin: 600, momentary: 3, available: 0.99537 },
    output: { sustained: 0, sustainedMin: 0, momentary: 1, available: 1 },
    tests: 2,
    silentMin: 90,
  };
  expect(supplyRows(reliability, saying).map(({ head, cells }) => [head, ...cells.map(plain)])).toEqual([
    ['Grid, as supplied', '12', '10 h', '3', '99.5 %'],
    ['Output, as felt', '0', '0 s', '1', '100.0 %'],
  ]);
  expect(plain(saySupplyPeriod(reliability, saying))).toBe(
    'Interruptions from 3 March to 1 June. Two tests are left out. For 1 h 30 min the whole site was silent, and what happened then is not known.',
  );
});
