import { describe, expect, test } from 'vitest';
import { cellSpread } from '../../../ingest/analysis/cell-spread.ts';
import { createPrng } from '../../../ingest/demo/prng.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { at, findingsOf, type Line, siteOf } from './_check.ts';

const SITE = siteOf({ packs: ['p1', 'p2'], intervalS: 600 });
const START = at('+10 10:00');

interface CellLog {
  /** What is added between highest and lowest, V. */
  readonly addedV?: (t: number, pack: number, soc: number) => number;
  readonly gaugePoints?: (t: number, pack: number) => number;
  readonly depth?: (t: number) => number;
  readonly to?: string;
}

/** Two packs cycled by day: 6 mV apart on the flat, more under load, much more near full. */
function cellLog({ addedV = () => 0, gaugePoints = () => 0, depth = () => 1, to = '+18 00:00' }: CellLog): Line[] {
  const prng = createPrng(9, 'cells');
  const noise = (size: number): number => (size * prng.whole(-100, 100)) / 100;
  const out: Line[] = [];
  let soc = 100;
  for (let t = at('00:00'); t < at(to); t += 600_000) {
    const hour = (t / HOUR_MS) % 24;
    const loadC = (hour >= 18 || hour < 2 ? 0.09 : hour >= 9 && hour < 15 && soc < 100 ? -0.15 : 0) * depth(t);
    soc = Math.max(15, Math.min(100, soc - (100 * loadC) / 6));
    for (const [k, pack] of ['p1', 'p2'].entries()) {
      const knee = soc > 97 ? 0.012 * (soc - 97) : 0;
      const spread = 0.006 + 0.02 * Math.abs(loadC) + knee + addedV(t, k, soc) + noise(0.001);
      const cellV = 3.25 + 0.0009 * soc + knee - 0.05 * loadC;
      const thousandths = (value: number): number => Math.round(value * 1000) / 1000;
      out.push({
        t: t + k * 1000,
        pack,
        soc_pct: Math.max(0, Math.min(100, Math.round(soc + gaugePoints(t, k)))),
        pack_current_a: Math.round(1000 * loadC) / 10,
        pack_voltage_v: Math.round(1600 * cellV) / 100,
        cell_voltage_min_v: thousandths(cellV - spread * 0.6),
        cell_voltage_max_v: thousandths(cellV + spread * 0.4),
      });
    }
  }
  return out;
}

const found = (log: CellLog): readonly Finding[] => findingsOf(cellSpread, SITE, cellLog(log));
const grows = (v: number) => (t: number, k: number) => (k === 1 && t >= START ? v : 0);

describe('cellSpread finds nothing', () => {
  test.each([
    ['in cells that part near full, as ever', {}],
    ['in a growth of 6 mV', { addedV: grows(0.006) }],
    ['in a season that halves the cycle', { depth: (t: number) => (t < START ? 1 : 0.5) }],
    [
      'in a gauge that runs off and calls a full pack half full',
      { gaugePoints: (t: number, k: number) => (k === 1 && t >= START ? -45 : 0) },
    ],
  ] satisfies [string, CellLog][])('%s', (_, log) => {
    expect(found(log)).toEqual([]);
  });
});

describe('cellSpread names', () => {
  test('the pack whose cells part by 40 mV, within a day, and none beside it', () => {
    const [finding, ...others] = found({ addedV: grows(0.04) });
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ kind: 'cell_spread', subject: 'p2', end: null, severity: 'plan' });
    expect(finding!.value! - finding!.baseline!).toBeCloseTo(0.04, 2);
    expect(Math.abs(finding!.start - START)).toBeLessThanOrEqual(10 * HOUR_MS);
    expect(finding!.detectedAt - START).toBeLessThan(24 * HOUR_MS);
  });

  test('cells 0.2 V apart on the flat as soon to be seen to', () => {
    const evening = at('+10 20:00');
    const addedV = (t: number, k: number): number => (k === 1 && t >= evening ? 0.2 : 0);
    expect(found({ addedV }).map(({ severity }) => severity)).toEqual(['soon']);
  });

  test('a growth that shows only near full, against what is usual there', () => {
    const [finding, ...others] = found({ addedV: (t, k, soc) => (k === 0 && t >= START && soc > 97 ? 0.15 : 0) });
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ subject: 'p1', evidence: { place: 'near full or empty' } });
  });

  test('the end, once the cells stand together again', () => {
    const until = at('+14 10:00');
    const [finding, ...others] = found({ addedV: (t, k) => (k === 1 && t >= START && t < until ? 0.05 : 0) });
    expect(others).toEqual([]);
    expect(Math.abs(finding!.end! - until)).toBeLessThanOrEqual(16 * HOUR_MS);
  });

  test('live what it says later: cut at any time near it, the log says the same', () => {
    const log = cellLog({ addedV: grows(0.04), to: '+12 12:00' });
    const name = ({ kind, subject, start, detectedAt }: Finding): string => `${kind} ${subject} ${start} ${detectedAt}`;
    const whole = findingsOf(cellSpread, SITE, log);
    const seen = whole[0]!.detectedAt;
    for (const t of [START, seen - 1, seen, seen + 1, seen + 9 * HOUR_MS]) {
      const cut = findingsOf(
        cellSpread,
        SITE,
        log.filter((line) => line.t <= t),
      );
      expect(cut.map(name)).toEqual(t < seen ? [] : whole.map(name));
    }
  });
});
