import { describe, expect, test } from 'vitest';
import { DIP_LIMITS, type Dip, findDips } from '../../ingest/electrical/iec-61000-4-30.ts';
import { iticVerdict } from '../../ingest/electrical/itic.ts';
import { isPresent, readColumns } from './_datasets.ts';
import { expectWithin } from './_expect-within.ts';

/** RMS over one 60 Hz cycle (167 samples at 10 kHz) that ends at each sample; NaN in the first cycle. */
function slidingRms(volts: Float64Array): Float64Array {
  const rms = new Float64Array(volts.length).fill(Number.NaN);
  let squares = 0;
  for (let i = 0; i < volts.length; i++) {
    squares += volts[i]! ** 2 - (i >= 167 ? volts[i - 167]! ** 2 : 0);
    if (i >= 166) rms[i] = Math.sqrt(squares / 167);
  }
  return rms;
}

// Fault records of the IEEE 123-node feeder: RMS before (0.140 s) and during (0.300 s) the fault, and when it falls below a limit.
const CHANNELS = [
  {
    file: 'dip-f1-one-phase-60Hz-10kHz.csv',
    channel: 'v_bus_b_V',
    before: 2388.15,
    during: 932.58,
    ratio: 0.3905,
    dipS: 0.1554,
    interruptionS: null,
  },
  {
    file: 'dip-f1-one-phase-60Hz-10kHz.csv',
    channel: 'v_pv004a_V',
    before: 2411.41,
    during: 29.84,
    ratio: 0.0124,
    dipS: 0.155,
    interruptionS: 0.2109,
  },
  {
    file: 'dip-f2-two-phase-60Hz-10kHz.csv',
    channel: 'v_bus_b_V',
    before: 2388.15,
    during: 850.87,
    ratio: 0.3563,
    dipS: 0.1635,
    interruptionS: null,
  },
  {
    file: 'dip-f2-two-phase-60Hz-10kHz.csv',
    channel: 'v_bus_c_V',
    before: 2380.21,
    during: 771.44,
    ratio: 0.3241,
    dipS: 0.1619,
    interruptionS: null,
  },
  {
    file: 'dip-f3-three-phase-60Hz-10kHz.csv',
    channel: 'v_bus_a_V',
    before: 2377.21,
    during: 1887.91,
    ratio: 0.7942,
    dipS: 0.1658,
    interruptionS: null,
  },
  {
    file: 'dip-f3-three-phase-60Hz-10kHz.csv',
    channel: 'v_bus_b_V',
    before: 2388.15,
    during: 1899.44,
    ratio: 0.7954,
    dipS: 0.1687,
    interruptionS: null,
  },
  {
    file: 'dip-f3-three-phase-60Hz-10kHz.csv',
    channel: 'v_bus_c_V',
    before: 2380.21,
    during: 1934.48,
    ratio: 0.8127,
    dipS: 0.1683,
    interruptionS: null,
  },
] as const;
const SOURCE = 'github pnnl/oedisi_transients @5236d1d (BSD-2), simulated faults on the IEEE 123-node feeder';

for (const { file, channel, before, during, ratio, dipS, interruptionS } of CHANNELS)
  describe(`findDips: ${SOURCE}, ${file}, ${channel}`, () => {
    test.runIf(isPresent(file))(
      `one ${interruptionS === null ? 'dip' : 'interruption'}, which begins at ${dipS} s`,
      () => {
        const columns = readColumns(file);
        const tMs = columns.get('t_s')!.map((s) => s * 1000);
        const rms = slidingRms(columns.get(channel)!);
        const at = (s: number): number => rms[Math.round(s * 1e4)]!;
        expectWithin(at(0.14), before, 5.1e-3);
        expectWithin(at(0.3), during, 5.1e-3);
        expectWithin(at(0.3) / at(0.14), ratio, 5.1e-5);
        const dips = findDips({ tMs, phasesV: [rms], referenceV: at(0.14) }, { ...DIP_LIMITS, interruptionPct: 5 });
        expect(dips.filter((dip) => dip.startMs < 300)).toHaveLength(1);
        expectWithin(dips[0]!.startMs / 1000, dipS, 1e-9);
        expect(dips[0]!.kind).toBe(interruptionS === null ? 'dip' : 'interruption');
        const firstUnder5 = rms.findIndex((v) => v < 0.05 * at(0.14));
        if (interruptionS === null) expect(firstUnder5).toBe(-1);
        else expectWithin(tMs[firstUnder5]! / 1000, interruptionS, 1e-9);
      },
    );
  });

describe(`findDips: ${SOURCE}, phases of the first record without a fault`, () => {
  const file = 'dip-f1-one-phase-60Hz-10kHz.csv';
  test.runIf(isPresent(file)).each([
    { channel: 'v_bus_a_V', ratio: 0.9993 },
    { channel: 'v_bus_c_V', ratio: 0.9999 },
  ])('$channel stays at $ratio and gives no dip', ({ channel, ratio }) => {
    const columns = readColumns(file);
    const rms = slidingRms(columns.get(channel)!);
    expectWithin(rms[3000]! / rms[1400]!, ratio, 5.1e-5);
    expect(findDips({ tMs: columns.get('t_s')!, phasesV: [rms], referenceV: rms[1400]! })).toEqual([]);
  });
  test.runIf(isPresent('dip-f3-three-phase-60Hz-10kHz.csv'))(
    'the three phases of the third record are one dip, from the first phase on',
    () => {
      const columns = readColumns('dip-f3-three-phase-60Hz-10kHz.csv');
      const phasesV = ['v_bus_a_V', 'v_bus_b_V', 'v_bus_c_V'].map((name) => slidingRms(columns.get(name)!));
      const dips = findDips({ tMs: columns.get('t_s')!, phasesV, referenceV: 2385 });
      expect(dips).toHaveLength(1);
      expectWithin(dips[0]!.startMs, 0.1658, 3e-4);
      expect(dips[0]!.phases).toEqual([0, 1, 2]);
    },
  );
});

const ends = (dips: readonly Dip[]): unknown =>
  dips.map(({ kind, startMs, endMs, residualV, phases }) => ({ kind, startMs, endMs, residualV, phases }));
const times = (count: number): number[] => Array.from({ length: count }, (_, i) => 10 * i);

describe('findDips: IEC 61000-4-30 as in a power-quality analyser manual (begins below the threshold, ends at threshold + hysteresis; phases: first to last)', () => {
  test('a voltage between threshold and threshold + hysteresis does not end a dip', () => {
    const volts = [230, 206, 208, 211, 212, 230];
    expect(ends(findDips({ tMs: times(6), phasesV: [volts], referenceV: 230 }))).toEqual([
      { kind: 'dip', startMs: 10, endMs: 40, residualV: 206, phases: [0] },
    ]);
  });
  test('nor does it begin one', () => {
    expect(findDips({ tMs: times(4), phasesV: [[230, 207.5, 211, 230]], referenceV: 230 })).toEqual([]);
  });
  test('it begins with the first phase below and ends when all are back', () => {
    const phasesV = [
      [230, 200, 230, 230, 230],
      [230, 230, 150, 190, 230],
      [230, 230, 230, 230, 230],
    ];
    expect(ends(findDips({ tMs: times(5), phasesV, referenceV: 230 }))).toEqual([
      { kind: 'dip', startMs: 10, endMs: 40, residualV: 150, phases: [0, 1] },
    ]);
  });
  test('one phase at zero is a dip; all phases at once are an interruption', () => {
    expect(
      findDips({
        tMs: times(3),
        phasesV: [
          [230, 0, 230],
          [230, 230, 230],
        ],
        referenceV: 230,
      })[0]!.kind,
    ).toBe('dip');
    expect(
      findDips({
        tMs: times(3),
        phasesV: [
          [230, 0, 230],
          [230, 5, 230],
        ],
        referenceV: 230,
      })[0]!.kind,
    ).toBe('interruption');
  });
});

const ITIC = 'ITI (CBEMA) curve, 2000, break points as in Power Quality in Electrical Systems, fig. 8.2';
const POINTS = [
  { source: ITIC, pct: 0, ms: 20, says: 'no interruption' },
  { source: ITIC, pct: 0, ms: 20.1, says: 'may stop' },
  { source: ITIC, pct: 70, ms: 500, says: 'no interruption' },
  { source: ITIC, pct: 69.9, ms: 500, says: 'may stop' },
  { source: ITIC, pct: 70, ms: 501, says: 'may stop' },
  { source: ITIC, pct: 80, ms: 10_000, says: 'no interruption' },
  { source: ITIC, pct: 79.9, ms: 10_000, says: 'may stop' },
  { source: ITIC, pct: 90, ms: 3_600_000, says: 'no interruption' },
  { source: ITIC, pct: 89.9, ms: 3_600_000, says: 'may stop' },
  { source: ITIC, pct: 140, ms: 3, says: 'no interruption' },
  { source: ITIC, pct: 140, ms: 3.1, says: 'may be damaged' },
  { source: ITIC, pct: 120, ms: 500, says: 'no interruption' },
  { source: ITIC, pct: 120.1, ms: 500, says: 'may be damaged' },
  { source: ITIC, pct: 110, ms: 3_600_000, says: 'no interruption' },
  { source: ITIC, pct: 111, ms: 501, says: 'may be damaged' },
  { source: `${ITIC}; 0.01 cycle`, pct: 500, ms: 1 / 6, says: 'no interruption' },
  { source: `${ITIC}; 0.01 cycle`, pct: 501, ms: 1 / 6, says: 'may be damaged' },
  {
    source: 'ITI (CBEMA) curve, 2000: 200 % at 1 ms (from memory, unverified)',
    pct: 200,
    ms: 1,
    says: 'no interruption',
  },
  {
    source: 'ITI (CBEMA) curve, 2000: 200 % at 1 ms (from memory, unverified)',
    pct: 201,
    ms: 1,
    says: 'may be damaged',
  },
] as const;
for (const { source, pct, ms, says } of POINTS)
  describe(`iticVerdict: ${source}`, () => {
    test(`${pct} % for ${ms} ms: ${says}`, () => expect(iticVerdict(pct, ms)).toBe(says));
  });
