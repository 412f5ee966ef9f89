import { describe, expect, test } from 'vitest';
import type { SourceDay } from '../../../ingest/alignment/day-block.ts';
import { binLengthMs, type PowerBin, powerBins } from '../../../ingest/alignment/power-bins.ts';
import { MODES, type QuantityId } from '../../../ingest/vocabulary/quantities.ts';
import { DAY_MS, MINUTE_MS } from '../../../ingest/vocabulary/time.ts';

const OPTIONS = { day: 0, sampleIntervalS: 60, nominalVoltageV: 230 };
const word = (mode: (typeof MODES)[number]): number => MODES.indexOf(mode);

interface Shape {
  readonly everyS?: number;
  readonly offsetS?: number;
  readonly from?: number;
  readonly to?: number;
  readonly power: (t: number) => number;
  readonly more?: Record<string, (t: number) => number>;
  /** null: sends no mode. */
  readonly mode?: ((t: number) => number) | null;
}

/** A unit for an hour or so, t in ms since midnight. */
function unit({ everyS = 60, offsetS = 0, from = 0, to = 60 * MINUTE_MS, power, more = {}, mode }: Shape): SourceDay {
  const tMs: number[] = [];
  for (let t = from + offsetS * 1000; t < to; t += everyS * 1000) tMs.push(t);
  const fields = { output_power_w: power, ...(mode === null ? {} : { mode: mode ?? (() => word('grid')) }), ...more };
  const columns = new Map(
    Object.entries(fields).map(([id, of]) => [id as QuantityId, Float64Array.from(tMs, (t) => of(t))]),
  );
  return { id: 'u', tMs: Float64Array.from(tMs), columns };
}
const level = (w: number) => () => w;
const totals = (bins: readonly PowerBin[]): number[] => bins.map(({ totalW }) => Math.round(totalW));

describe('powerBins', () => {
  test('averages each unit over quarters of an hour', () => {
    const bins = powerBins([unit({ power: level(1000) }), unit({ power: level(1200), offsetS: 7 })], OPTIONS);
    expect(bins.map(({ t, endMs }) => [t / MINUTE_MS, endMs / MINUTE_MS])).toEqual([
      [0, 15],
      [15, 30],
      [30, 45],
      [45, 60],
    ]);
    for (const { unitW, totalW, mode, minutes } of bins) {
      expect(unitW).toEqual([1000, 1200]);
      expect([totalW, mode]).toEqual([2200, 'grid']);
      expect(minutes).toBeGreaterThan(11);
      expect(minutes).toBeLessThanOrEqual(15);
    }
  });

  test('a load step between two samples swings no share', () => {
    const step = (part: number) => (t: number) => part * (t % (10 * MINUTE_MS) < 5 * MINUTE_MS ? 2000 : 6000);
    const bins = powerBins([unit({ power: step(0.4) }), unit({ power: step(0.6), offsetS: 31 })], OPTIONS);
    expect(bins.length).toBeGreaterThan(2);
    for (const { unitW, totalW } of bins) expect(unitW[0]! / totalW).toBeCloseTo(0.4, 6);
  });

  test('a slow ramp is read off at the same instants', () => {
    const ramp = (part: number) => (t: number) => part * (3000 + t / 3000);
    const bins = powerBins([unit({ power: ramp(0.5) }), unit({ power: ramp(0.5), offsetS: 40 })], OPTIONS);
    for (const { unitW } of bins) expect(unitW[0]! / unitW[1]!).toBeCloseTo(1, 9);
  });

  test.each([
    ['one unit is missing', [unit({ power: level(1000) }), undefined]],
    ['one never says its power', [unit({ power: level(1000) }), unit({ power: level(Number.NaN) })]],
    ['there is no unit', []],
    [
      'one is silent in that time',
      [unit({ power: level(1) }), unit({ power: level(1), from: DAY_MS / 2, to: DAY_MS })],
    ],
    ['one is too sparse to be bracketed', [unit({ power: level(900) }), unit({ power: level(900), everyS: 200 })]],
    ['one tells neither mode nor grid voltage', [unit({ power: level(9) }), unit({ power: level(9), mode: null })]],
    ['one starts', [unit({ power: level(900) }), unit({ power: level(900), mode: () => word('starting') })]],
    ['all stand by', [0, 1].map(() => unit({ power: level(900), mode: () => word('standby') }))],
    [
      'one is on the grid and one is not',
      [unit({ power: level(9) }), unit({ power: level(9), mode: () => word('backup') })],
    ],
  ])('nothing where %s', (_, units) => {
    expect(powerBins(units, OPTIONS)).toEqual([]);
  });

  test('a missing power takes out its own instants only', () => {
    const power = (t: number): number => (t < 15 * MINUTE_MS ? Number.NaN : 1000);
    expect(powerBins([unit({ power }), unit({ power: level(1000) })], OPTIONS).map(({ t }) => t / MINUTE_MS)).toEqual([
      15, 30, 45,
    ]);
  });

  test('takes its instants from the unit that spoke most often, whichever it is', () => {
    const often = unit({ power: level(1000), everyS: 10 });
    const seldom = unit({ power: level(1500), everyS: 120, offsetS: 3 });
    expect(totals(powerBins([seldom, often], OPTIONS))).toEqual([2500, 2500, 2500, 2500]);
    expect(totals(powerBins([often, seldom], OPTIONS))).toEqual([2500, 2500, 2500, 2500]);
  });

  test.each(['off', 'standby', 'fault'] as const)('a unit that is %s carries its nothing beside the others', (idle) => {
    const units = [unit({ power: level(2000) }), unit({ power: level(0), mode: () => word(idle) })];
    expect(powerBins(units, OPTIONS).map(({ unitW, mode }) => [...unitW, mode])).toContainEqual([2000, 0, 'grid']);
  });

  test('power that flows back in keeps its sign', () => {
    const bins = powerBins([unit({ power: level(-300) }), unit({ power: level(2300) })], OPTIONS);
    expect(bins[0]!.unitW).toEqual([-300, 2300]);
  });

  test('each mode has its own bin, and the change between them belongs to neither', () => {
    const mode = (t: number): number => word(t < 37 * MINUTE_MS ? 'grid' : 'backup');
    const power = (t: number): number => (t < 37 * MINUTE_MS ? 1000 : 2000);
    const bins = powerBins([unit({ power, mode }), unit({ power, mode, offsetS: 9 })], OPTIONS);
    const own = bins.map((bin) => `${bin.t / MINUTE_MS} ${bin.mode} ${bin.totalW}`);
    expect(own).toEqual(['0 grid 2000', '15 grid 2000', '30 grid 2000', '30 backup 4000', '45 backup 4000']);
  });

  test.each([
    [231, 'grid'],
    [114, 'backup'],
    [0, 'backup'],
  ])('without a mode the grid’s voltage decides: %i V is %s', (volts, expected) => {
    const units = [0, 1].map(() => unit({ power: level(900), mode: null, more: { grid_voltage_v: level(volts) } }));
    expect(powerBins(units, OPTIONS)[0]!.mode).toBe(expected);
  });

  test('what a unit takes in is grid + PV + battery, and unknown where one of them is absent', () => {
    const battery = { dc_voltage_v: level(50), dc_current_a: level(10) };
    const all = { grid_power_w: level(400), pv_power_w: level(200), ...battery };
    const noPv = { grid_power_w: level(400), ...battery };
    const pvGone = { ...all, pv_power_w: level(Number.NaN) };
    const inputs = [all, noPv, battery, pvGone].map((more) => unit({ power: level(1000), more }));
    expect(powerBins(inputs, OPTIONS)[0]!.inputW).toEqual([1100, 900, null, null]);
  });

  test('on its own a set takes nothing from the grid, whether it says so or not', () => {
    const more = { dc_voltage_v: level(50), dc_current_a: level(20), grid_power_w: level(Number.NaN) };
    const units = [0, 1].map(() => unit({ power: level(950), more, mode: () => word('backup') }));
    expect(powerBins(units, OPTIONS)[0]!.inputW).toEqual([1000, 1000]);
  });

  test('a bin rests on nothing after its end', () => {
    const whole = [unit({ power: level(1000) }), unit({ power: level(1200), offsetS: 7 })];
    const cut = [
      unit({ power: level(1000), to: 30 * MINUTE_MS }),
      unit({ power: level(1200), offsetS: 7, to: 30 * MINUTE_MS }),
    ];
    expect(powerBins(cut, OPTIONS)).toEqual(powerBins(whole, OPTIONS).slice(0, 2));
  });
});

describe('binLengthMs', () => {
  test.each([
    [1, 15],
    [10, 15],
    [30, 15],
    [60, 15],
    [61, 30],
    [300, 120],
    [3600, 240],
  ])('samples every %i s make bins of %i min', (everyS, minutes) => {
    expect(binLengthMs(everyS)).toBe(minutes * MINUTE_MS);
    expect(DAY_MS % binLengthMs(everyS)).toBe(0);
  });
});
