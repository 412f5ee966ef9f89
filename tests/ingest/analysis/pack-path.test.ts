import { describe, expect, test } from 'vitest';
import { packPath } from '../../../ingest/analysis/pack-path.ts';
import { createPrng } from '../../../ingest/demo/prng.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { at, findingsOf, type Line, siteOf } from './_check.ts';

const THREE = ['p1', 'p2', 'p3'];
const SITE = siteOf({ packs: THREE, intervalS: 60 });
const START = at('+10 08:00');
/** Volts a pack gains from empty to full, on the flat. */
const SLOPE_V = 1.1;

interface PathLog {
  readonly ohm?: (t: number, pack: number) => number;
  readonly capacityAh?: (t: number, pack: number) => number;
  readonly to?: string;
}

/** Packs behind resistances on one bus: currents follow from voltages, charges from currents. */
function pathLog({ ohm = () => 0.012, capacityAh = () => 100, to = '+14 00:00' }: PathLog): Line[] {
  const prng = createPrng(21, 'paths');
  const charge = THREE.map(() => 0.9);
  const out: Line[] = [];
  let load = 20;
  for (let t = at('00:00'); t < at(to); t += 60_000) {
    if (prng.whole(0, 25) === 0) load = prng.whole(4, 60);
    const hour = (t / HOUR_MS) % 24;
    const total = hour >= 9 && hour < 16 ? (charge[0]! < 0.9 ? -70 : 0) : hour >= 18 ? load : 0;
    const g = THREE.map((_, k) => 1 / ohm(t, k));
    const sumG = g.reduce((a, b) => a + b, 0);
    const busV = (g.reduce((sum, own, k) => sum + own * SLOPE_V * charge[k]!, 0) - total) / sumG;
    for (const [k, pack] of THREE.entries()) {
      const amps = (SLOPE_V * charge[k]! - busV) * g[k]!;
      charge[k]! -= amps / 60 / capacityAh(t, k);
      out.push({
        t: t + 7000 * k,
        pack,
        soc_pct: Math.round(1000 * charge[k]!) / 10,
        pack_current_a: Math.round(10 * amps) / 10,
      });
    }
  }
  return out;
}

const found = (log: PathLog): readonly Finding[] => findingsOf(packPath, SITE, pathLog(log));

describe('packPath finds nothing', () => {
  test.each([
    ['in paths that stay as they are', {}],
    ['in paths that were unequal from the first', { ohm: (_: number, k: number) => [0.01, 0.012, 0.016][k]! }],
    [
      'in a pack that lost capacity: its path is as before',
      { capacityAh: (t: number, k: number) => (k === 1 && t >= START ? 65 : 100) },
    ],
    ['in a path that got worse by a sixth', { ohm: (t: number, k: number) => (k === 1 && t >= START ? 0.014 : 0.012) }],
  ] satisfies [string, PathLog][])('%s', (_, log) => {
    expect(found(log)).toEqual([]);
  });
});

describe('packPath names', () => {
  const worse = { ohm: (t: number, k: number) => (k === 1 && t >= START ? 0.048 : 0.012) };

  test('the pack whose path has four times the resistance, within two evenings', () => {
    const [finding, ...others] = found(worse);
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ kind: 'pack_not_carrying', subject: 'p2', end: null, severity: 'soon' });
    expect(finding!.value! / finding!.baseline!).toBeLessThan(0.5);
    expect(Math.abs(finding!.start - START)).toBeLessThanOrEqual(12 * HOUR_MS);
    expect(finding!.detectedAt - START).toBeLessThan(40 * HOUR_MS);
  });

  test('live what it says later: cut at any time near it, the log says the same', () => {
    const log = pathLog({ ...worse, to: '+12 12:00' });
    const name = ({ kind, subject, start, detectedAt }: Finding): string => `${kind} ${subject} ${start} ${detectedAt}`;
    const whole = findingsOf(packPath, SITE, log);
    const seen = whole[0]!.detectedAt;
    for (const t of [START, seen - 1, seen, seen + HOUR_MS]) {
      const cut = findingsOf(
        packPath,
        SITE,
        log.filter((line) => line.t <= t),
      );
      expect(cut.map(name)).toEqual(t < seen ? [] : whole.map(name));
    }
  });
});
