/** Healthy sites that vary at random, seeded: the verdicts on grid, frequency, transformer and island say nothing of them. */
import { describe, expect, test } from 'vitest';
import type { Analyzer } from '../../../ingest/analysis/analyzer.ts';
import { circulatingPower } from '../../../ingest/analysis/circulating-power.ts';
import { ctReversed } from '../../../ingest/analysis/ct-reversed.ts';
import { excursions } from '../../../ingest/analysis/excursions.ts';
import { frequencyDisagreement } from '../../../ingest/analysis/frequency-disagreement.ts';
import { hunting } from '../../../ingest/analysis/hunting.ts';
import { outputLost } from '../../../ingest/analysis/output-lost.ts';
import { singleUnitGridLoss } from '../../../ingest/analysis/single-unit-grid-loss.ts';
import { at, findingsOf, inWords, type Line, siteOf } from './_check.ts';

const KINDS: readonly Analyzer<unknown>[] = [
  singleUnitGridLoss,
  ctReversed,
  circulatingPower,
  frequencyDisagreement,
  hunting,
  excursions,
  outputLost,
];
const DAYS = 4;
const SECOND = 1000;

/** A small generator of even numbers in [0, 1): mulberry32. */
function random(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** A value that holds for a while and then steps to another: times of the steps, and what holds from each on. */
function steps(draw: () => number, everyMs: number, value: () => number): (t: number) => number {
  const from: number[] = [];
  const held: number[] = [];
  for (let t = at('00:00'); t < at(`+${DAYS} 00:00`); t += everyMs * (0.1 + 1.8 * draw())) {
    from.push(t);
    held.push(value());
  }
  return (t) => {
    let low = 0;
    for (let high = from.length; high - low > 1; ) {
      const middle = (low + high) >> 1;
      if (from[middle]! <= t) low = middle;
      else high = middle;
    }
    return held[low]!;
  };
}

interface Site {
  readonly seed: number;
  readonly everyS: number;
  /** Volts and hertz that the set sags at its rating. */
  readonly sagHz: number;
  readonly share: number;
}

/** Two units of 8 kW under a busy load, three grid losses a day, PV that adds what the sun gives, gaps and a restart. */
function healthy({ seed, everyS, sagHz, share }: Site): Line[] {
  const draw = random(seed);
  const noise = (size: number): number => size * (draw() + draw() + draw() + draw() - 2);
  const loadW = steps(draw, 240 * SECOND, () => 300 + 9000 * draw() ** 2);
  const otherW = steps(draw, 500 * SECOND, () => 2500 * draw() ** 2);
  const gridV = steps(draw, 600 * SECOND, () => 226 + 10 * draw());
  const gridHz = (t: number): number => 50 + 0.03 * Math.sin(t / 310_000) + 0.02 * Math.sin(t / 41_000);
  const losses = Array.from({ length: 3 * DAYS }, (_, k) => {
    const start = at('00:00') + (k + 0.2 + 0.4 * draw()) * 8 * 3_600_000;
    return { start, gridBack: start + (60 + 7000 * draw() ** 2) * SECOND, waitMs: (60 + 240 * draw()) * SECOND };
  });
  return [share, 1 - share].flatMap((part, k) => {
    const out: Line[] = [];
    const lateMs = k * everyS * SECOND * 0.4;
    for (let t0 = at('00:00'); t0 < at(`+${DAYS} 00:00`); t0 += everyS * SECOND) {
      const t = Math.round(t0 + lateMs + 800 * draw());
      if (draw() < 0.01 || (k === 1 && t > at('+1 03:00') && t < at('+1 03:40'))) continue;
      const loss = losses.find(({ start, gridBack, waitMs }) => t >= start && t < gridBack + waitMs);
      const isAway = loss !== undefined;
      const isGone = loss !== undefined && t < loss.gridBack;
      const isRestart = k === 1 && t >= at('+2 03:00') && t < at('+2 03:20') && !isAway;
      const w = loadW(t) * part + noise(8);
      const hz = isAway ? 50 - (sagHz * loadW(t)) / 16_000 : gridHz(t);
      out.push({
        t,
        unit: `u${k + 1}`,
        mode: isRestart ? 'starting' : isAway ? 'backup' : 'grid',
        grid_voltage_v: isGone ? 0.2 : Math.round(10 * (gridV(t) + noise(0.3))) / 10,
        output_voltage_v: 230 + noise(0.5),
        output_frequency_hz: Math.round(100 * (hz + noise(0.006))) / 100,
        output_power_w: Math.round(isRestart ? 0 : w),
        grid_power_w: Math.round(isAway ? 0 : w + noise(8)),
        ...(k === 0 ? { ct_power_w: Math.round(isAway ? noise(3) : loadW(t) + otherW(t) + noise(8)) } : {}),
      });
    }
    return out;
  });
}

describe('healthy variety', () => {
  test.each<Site>([
    { seed: 11, everyS: 60, sagHz: 0.1, share: 0.46 },
    { seed: 12, everyS: 60, sagHz: 0.9, share: 0.54 },
    { seed: 13, everyS: 30, sagHz: 0.6, share: 0.5 },
  ])(
    'raises nothing, seed $seed, every $everyS s, $sagHz Hz of sag',
    (site) => {
      const log = healthy(site);
      const record = siteOf({ intervalS: site.everyS });
      for (const analyzer of KINDS) {
        expect(findingsOf(analyzer, record, log).map(inWords), analyzer.name).toEqual([]);
      }
    },
    60_000,
  );
});
