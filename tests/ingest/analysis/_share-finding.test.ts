import { describe, expect, test } from 'vitest';
import { fitBaseline, type ShareBin } from '../../../ingest/analysis/_share-baseline.ts';
import { driftFinding } from '../../../ingest/analysis/_share-finding.ts';
import type { DriftCase } from '../../../ingest/analysis/_share-state.ts';
import { newWatch } from '../../../ingest/analysis/_share-watch.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { at, siteOf } from './_check.ts';

const bins = (count: number, from: number, share: number): ShareBin[] =>
  Array.from({ length: count }, (_, k) => {
    const totalW = 5000 + 2000 * Math.sin(k);
    const unitW = [(1 - share) * totalW, share * totalW];
    return { t: from + k * HOUR_MS, totalW, unitW, balance: [null, null], volts: null };
  });

const START = at('+9 06:00');
const END = START + 30 * HOUR_MS;

function caseOf(over: Partial<DriftCase> & { recent?: ShareBin[]; showsFromW?: number } = {}): DriftCase {
  const { recent = bins(30, START, 0.45), showsFromW = 3000, ...more } = over;
  const watch = { ...newWatch(2), baseline: fitBaseline(bins(100, at('00:00'), 0.52), 8000), recent };
  const detectedAt = START + 6 * HOUR_MS;
  const drift = {
    unit: 1,
    sign: -1,
    start: START,
    form: 'step',
    detectedAt,
    levelSum: 0,
    levelSince: null,
    levelFromW: 0,
  } as const;
  const peaksA = [{ day: at('+9 00:00'), unitA: [20, 20] }];
  const watches = { grid: watch, backup: newWatch(2) };
  const group = {
    phase: 'L1',
    ids: ['u1', 'u2'],
    since: null,
    watches,
    pending: [],
    days: { grid: [], backup: [] },
    peaksA,
  };
  return { group, mode: 'grid', watch, drift: { ...drift, showsFromW }, end: null, history: siteOf(), ...more };
}

describe('driftFinding', () => {
  test('says the share and the proven share of the same bins, as fractions', () => {
    const finding = driftFinding(caseOf())!;
    expect(finding).toMatchObject({ kind: 'share_drift', subject: 'u2', end: null, measure: 'share of output power' });
    expect(finding.value).toBeCloseTo(0.45, 3);
    expect(finding.baseline).toBeCloseTo(0.52, 3);
    expect(finding.limit).toBe(0.03);
    expect(finding.evidence).toMatchObject({ unit: 'u2', mode: 'grid', phase: 'L1', onset_form: 'step', bins_now: 30 });
  });

  test('an ended one rests on no bin after its end', () => {
    const recent = [...bins(30, START, 0.45), ...bins(60, END, 0.52)];
    expect(driftFinding(caseOf({ recent, end: END }))!.value).toBeCloseTo(0.45, 3);
  });

  test('one whose own bins are no longer kept still stands', () => {
    expect(driftFinding(caseOf({ recent: bins(5, END, 0.47), end: END }))).not.toBeNull();
    expect(driftFinding(caseOf({ showsFromW: 99_999 }))).not.toBeNull();
  });

  test('names a ratio of resistances, and no milliohms where no cable is on record', () => {
    const { evidence } = driftFinding(caseOf())!;
    // 0.52 to 0.45: (0.52/0.48) · (0.55/0.45).
    expect(evidence.resistance_ratio).toBeCloseTo(1.324, 2);
    expect(evidence.resistance_added_mohm).toBeUndefined();
  });

  test('all its figures are numbers or words, none is NaN', () => {
    for (const value of Object.values(driftFinding(caseOf())!.evidence)) expect(value).not.toBeNaN();
  });
});
