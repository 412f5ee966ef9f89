import { describe, expect, test } from 'vitest';
import { EN_50160_FREQUENCY, EN_50160_VOLTAGE, en50160Compliance } from '../../ingest/electrical/en-50160.ts';
import { blockMeans } from '../../ingest/math/block-means.ts';
import { mean } from '../../ingest/math/mean.ts';
import { median } from '../../ingest/math/median.ts';
import { medianAbsoluteDeviation } from '../../ingest/math/median-absolute-deviation.ts';
import { runsBeyond } from '../../ingest/math/runs-beyond.ts';
import { NO_MOMENTS, sampleVariance, welford } from '../../ingest/math/welford.ts';
import { isPresent, readColumns } from './_datasets.ts';
import { expectWithin } from './_expect-within.ts';

const file = 'grid-frequency-50Hz-1s-2022-09-17.csv';
const hzOfDay = (): Float64Array => readColumns(file).get('Hz')!;
const secondsOf = (hz: Float64Array): Float64Array => Float64Array.from(hz, (_, i) => 1000 * i);

describe('en50160Compliance and runsBeyond: measured grid frequency, Germany, 17 September 2022, netztransparenz.de by way of github calvan/enf-analysis @37602e9 (figures computed with NumPy 2.4.6)', () => {
  test.runIf(isPresent(file))('8640 means of 10 s, 49.930840 to 50.076616 Hz, all within', () => {
    const hz = hzOfDay();
    const means = blockMeans(secondsOf(hz), hz, 10_000).mean;
    expectWithin(Math.min(...means), 49.93084, 5.1e-7);
    expectWithin(Math.max(...means), 50.076616, 5.1e-7);
    expect(en50160Compliance(means, 50, EN_50160_FREQUENCY.interconnected)).toEqual({
      count: 8640,
      outsideInner: 0,
      outsideOuter: 0,
      innerSharePct: 100,
      complies: true,
    });
  });
  test.runIf(isPresent(file))(
    'below 49.95 Hz 39 runs, 649 s, longest 144 s; above 50.05 Hz 39 runs, 816 s, longest 158 s',
    () => {
      const hz = hzOfDay();
      const figures = (limits: { below?: number; above?: number }): number[] => {
        const lengths = runsBeyond(hz, limits).map((run) => run.to - run.from);
        return [lengths.length, lengths.reduce((total, n) => total + n, 0), Math.max(...lengths)];
      };
      expect(figures({ below: 49.95 })).toEqual([39, 649, 144]);
      expect(figures({ above: 50.05 })).toEqual([39, 816, 158]);
      expect(figures({ below: 49.95, above: 50.05 })[1]).toBe(1465);
    },
  );
  test.runIf(isPresent(file))('mean 50.0013862709, sd 0.0193863253, median 50.00227, MAD 0.01346 Hz', () => {
    const hz = hzOfDay();
    expectWithin(mean(hz), 50.0013862709, 5.1e-11);
    expectWithin(Math.sqrt(sampleVariance(welford(NO_MOMENTS, hz))), 0.0193863253, 5.1e-11);
    expectWithin(median(hz), 50.00227, 5.1e-6);
    expectWithin(medianAbsoluteDeviation(hz), 0.01346, 5.1e-6);
  });
});

const LIMITS = [
  {
    source: 'EN 50160 as in a power-meter maker’s manual: 50 Hz ± 1 %',
    band: EN_50160_FREQUENCY.interconnected,
    edges: [49.5, 50.5],
    beyond: [49.49, 50.51],
    counted: 'outsideInner',
  },
  {
    source: 'EN 50160 as in a power-meter maker’s manual: + 4/− 6 %',
    band: EN_50160_FREQUENCY.interconnected,
    edges: [47, 52],
    beyond: [46.99, 52.01],
    counted: 'outsideOuter',
  },
  {
    source: 'EN 50160 as in a power-meter maker’s manual: island ± 2 %',
    band: EN_50160_FREQUENCY.island,
    edges: [49, 51],
    beyond: [48.99, 51.01],
    counted: 'outsideInner',
  },
  {
    source: 'EN 50160 as in a power-meter maker’s manual: island ± 15 %',
    band: EN_50160_FREQUENCY.island,
    edges: [42.5, 57.5],
    beyond: [42.49, 57.51],
    counted: 'outsideOuter',
  },
] as const;

for (const { source, band, edges, beyond, counted } of LIMITS)
  describe(`en50160Compliance: ${source}`, () => {
    test(`${edges.join(' and ')} Hz are within, ${beyond.join(' and ')} Hz are not`, () => {
      expect(en50160Compliance(edges, 50, band)[counted]).toBe(0);
      expect(en50160Compliance(beyond, 50, band)[counted]).toBe(2);
    });
  });

describe('en50160Compliance: a second maker’s note, complies if N1/N ≤ 0.5 % and N2 = 0', () => {
  const means = (outside: number, wide = 0): number[] => [
    ...Array<number>(1000 - outside - wide).fill(50),
    ...Array<number>(outside).fill(49.4),
    ...Array<number>(wide).fill(46.9),
  ];
  test('5 of 1000 outside the inner band comply, 6 do not', () => {
    expect(en50160Compliance(means(5), 50, EN_50160_FREQUENCY.interconnected).complies).toBe(true);
    expect(en50160Compliance(means(6), 50, EN_50160_FREQUENCY.interconnected).complies).toBe(false);
  });
  test('one outside the outer band does not comply', () => {
    expect(en50160Compliance(means(0, 1), 50, EN_50160_FREQUENCY.interconnected).complies).toBe(false);
  });
});

describe('en50160Compliance: EN 50160 as in a power-meter maker’s manual, voltage + 10/− 15 % always, ± 10 % for 95 % of a week', () => {
  test('a week with 5 % of its means at 200 V complies on 230 V, with more it does not, and 195 V never does', () => {
    const week = (low: number, volts: number): number[] => [
      ...Array<number>(1008 - low).fill(230),
      ...Array<number>(low).fill(volts),
    ];
    expect(en50160Compliance(week(50, 200), 230, EN_50160_VOLTAGE).complies).toBe(true);
    expect(en50160Compliance(week(51, 200), 230, EN_50160_VOLTAGE).complies).toBe(false);
    expect(en50160Compliance(week(1, 195), 230, EN_50160_VOLTAGE).complies).toBe(false);
  });
});
