import { describe, expect, test } from 'vitest';
import { expectedWiredShare } from '../../../ingest/electrical/expected-wired-share.ts';

describe('expectedWiredShare', () => {
  test('one unit carries all', () => expect(expectedWiredShare([{ cablesOhm: 0.02, contactOhm: 0.001 }])).toEqual([1]));
  test('shares sum to 1 and fall as the resistance rises', () => {
    const shares = expectedWiredShare([
      { cablesOhm: 0.01, contactOhm: 0.002 },
      { cablesOhm: 0.02, contactOhm: 0.002 },
      { cablesOhm: 0.02, contactOhm: 0.004 },
    ]);
    expect(shares.reduce((total, share) => total + share, 0)).toBeCloseTo(1, 12);
    expect(shares).toEqual([...shares].sort((a, b) => b - a));
  });
  test('refuses a path without resistance, a missing figure and no path', () => {
    expect(() => expectedWiredShare([{ cablesOhm: 0, contactOhm: 0 }])).toThrow('is not above 0');
    expect(() => expectedWiredShare([{ cablesOhm: Number.NaN, contactOhm: 0 }])).toThrow(RangeError);
    expect(() => expectedWiredShare([])).toThrow('at least 1 path');
  });
});
