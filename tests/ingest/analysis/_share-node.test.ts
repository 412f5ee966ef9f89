import { describe, expect, test } from 'vitest';
import { fitBaseline, type ShareBin } from '../../../ingest/analysis/_share-baseline.ts';
import { isDroop, movedSetpoint } from '../../../ingest/analysis/_share-node.ts';
import { changedUnit } from '../../../ingest/analysis/_share-watch.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { normals } from './_share-log.ts';

/** Two sources behind 0.4 Ω each on one node of about 230 V, or two paths under a grid that wanders. */
function bins(emfV: readonly [number, number], law: 'droop' | 'wired', count = 60): ShareBin[] {
  const normal = normals(4);
  let walk = 0;
  return Array.from({ length: count }, (_, k) => {
    const totalW = 3000 + 2500 * Math.abs(Math.sin(k));
    const amps = totalW / 230;
    walk = 0.9 * walk + normal();
    const node = (emfV[0] + emfV[1] - amps * 0.4) / 2;
    const firstW = law === 'wired' ? 0.5 * totalW : ((emfV[0] - node) / 0.4) * 230;
    const volts = (law === 'wired' ? 230 + 2 * walk : node) + 0.05 * normal();
    return { t: k * HOUR_MS, totalW, unitW: [firstW, totalW - firstW], balance: [null, null], volts };
  });
}

describe('isDroop', () => {
  test('on the grid it is learnt from the voltage: it falls with the load where the units make it', () => {
    expect(isDroop(fitBaseline(bins([232, 232], 'droop'), 5000), 'grid', null)).toBe(true);
    expect(isDroop(fitBaseline(bins([232, 232], 'wired'), 5000), 'grid', null)).toBe(false);
  });

  test('the record decides where it says so', () => {
    const droop = fitBaseline(bins([232, 232], 'droop'), 5000);
    expect([isDroop(droop, 'grid', 'wired'), isDroop(droop, 'backup', 'link')]).toEqual([false, false]);
  });
});

describe('movedSetpoint', () => {
  const baseline = fitBaseline(bins([232, 232], 'droop'), 5000);

  test.each([
    { what: 'the second one up', emfV: [232, 233.2], moved: 'rising', unit: 1 },
    { what: 'the first one down', emfV: [230.8, 232], moved: 'falling', unit: 0 },
  ] as const)('$what: the node says which, though the shares are the same', ({ emfV, moved, unit }) => {
    const now = bins(emfV, 'droop', 12);
    expect(movedSetpoint(baseline, 0, now)).toBe(moved);
    const points = now.map(({ unitW, totalW }) => (100 * unitW[0]!) / totalW - 50);
    const mean = points.reduce((a, b) => a + b, 0) / points.length;
    expect(changedUnit([mean, -mean], baseline, now)).toBe(unit);
  });

  test('does not tell under a grid that wanders, from a few bins, or without voltages', () => {
    expect(movedSetpoint(fitBaseline(bins([232, 232], 'wired'), 5000), 0, bins([232, 233], 'wired', 12))).toBeNull();
    expect(movedSetpoint(baseline, 0, bins([232, 233], 'droop', 3))).toBeNull();
    const silent = bins([232, 233], 'droop', 12).map((bin) => ({ ...bin, volts: null }));
    expect(movedSetpoint(baseline, 0, silent)).toBeNull();
    expect(fitBaseline(silent, 5000).node).toBeNull();
  });
});
