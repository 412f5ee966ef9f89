import { describe, expect, test } from 'vitest';
import { DIP_LIMITS, findDips } from '../../../ingest/electrical/iec-61000-4-30.ts';

const on = (...phasesV: number[][]): Parameters<typeof findDips>[0] => ({
  tMs: phasesV[0]!.map((_, i) => 10 * i),
  phasesV,
  referenceV: 230,
});

describe('findDips', () => {
  test('a dip at the end of the series has no end', () =>
    expect(findDips(on([230, 100]))[0]).toMatchObject({ startMs: 10, endMs: null }));
  test('a gap neither begins nor ends a dip, and is told', () => {
    expect(findDips(on([230, Number.NaN, 230]))).toEqual([]);
    expect(findDips(on([230, 100, Number.NaN, 100, 230]))).toMatchObject([{ startMs: 10, endMs: 40, hasGap: true }]);
  });
  test('a phase that is missing does not make the others an interruption', () => {
    expect(findDips(on([230, 0, 230], [230, Number.NaN, 230]))[0]).toMatchObject({ kind: 'dip', hasGap: true });
  });
  test('two dips with a recovery between are two', () =>
    expect(findDips(on([230, 100, 230, 100, 230]))).toHaveLength(2));
  test('the residual is the lowest of the dip, also in % of the reference', () => {
    expect(findDips(on([230, 150, 115, 210, 230]))[0]).toMatchObject({ residualV: 115, residualPct: 50 });
  });
  test('refuses no phase, lengths that differ, a reference of 0 and limits out of order', () => {
    expect(() => findDips({ tMs: [], phasesV: [], referenceV: 230 })).toThrow('at least 1 phase');
    expect(() => findDips({ tMs: [0], phasesV: [[]], referenceV: 230 })).toThrow('1 times but 0 voltages');
    expect(() => findDips({ tMs: [0], phasesV: [[230]], referenceV: 0 })).toThrow('reference 0 V');
    expect(() => findDips(on([230]), { ...DIP_LIMITS, interruptionPct: 95 })).toThrow('out of order');
  });
});
