import { describe, expect, test } from 'vitest';
import { lfpOpenCircuitV, lfpSlopeVPerPct, lfpSocPct } from '../../../ingest/electrical/lfp-ocv.ts';

describe('lfpOpenCircuitV', () => {
  test('rises all the way', () => {
    for (let soc = 0; soc < 100; soc++) expect(lfpOpenCircuitV(soc + 1)).toBeGreaterThan(lfpOpenCircuitV(soc));
  });
  test.each([-1, 101, Number.NaN])('refuses %d %%', (soc) =>
    expect(() => lfpOpenCircuitV(soc)).toThrow('is not in 0…100'),
  );
});

describe('lfpSlopeVPerPct', () => {
  test('is steep at both ends and flat between', () => {
    expect(lfpSlopeVPerPct(1)).toBeGreaterThan(50 * lfpSlopeVPerPct(50));
    expect(lfpSlopeVPerPct(100)).toBeGreaterThan(50 * lfpSlopeVPerPct(50));
  });
  test('refuses NaN', () => expect(() => lfpSlopeVPerPct(Number.NaN)).toThrow(RangeError));
});

describe('lfpSocPct', () => {
  test('refuses a missing voltage', () => expect(() => lfpSocPct(Number.NaN)).toThrow('cell voltage NaN V'));
});
