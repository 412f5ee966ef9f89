import { describe, expect, test } from 'vitest';
import type { TrustAnswer } from '../../../server/contract/trust.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import { heardPart, sayTrust } from '../../../server/views/say-trust.ts';

const SAYING = { words: ENGLISH, zone: 'UTC', now: 0 };
const source = (heard: number, expected: number | null): TrustAnswer['sources'][number] => ({
  kind: 'unit',
  id: 'u1',
  isRecorded: expected !== null,
  firstAt: 0,
  newestAt: 0,
  readings: heard,
  days: 30,
  expected,
  heard,
  gaps: [],
  gapCount: 0,
  conflicts: 0,
});
const TRUST: TrustAnswer = {
  change: 1,
  people: 0,
  site: 'millpond',
  name: 'Millpond Clinic',
  zone: 'UTC',
  now: 0,
  from: 0,
  sources: [],
  silences: [],
  conflicts: [],
  conflictCount: 0,
  refusals: [],
  refusalCount: 0,
  refusalsElsewhere: 0,
  setAside: [],
  cannotTell: [],
};

describe('heardPart', () => {
  test('counts a source that no record names neither as heard nor as expected', () => {
    expect(heardPart({ sources: [source(90, 100), source(500, null)] })).toBe(0.9);
  });
  test('never lets more than expected of one source make up for another', () => {
    expect(heardPart({ sources: [source(300, 100), source(0, 100)] })).toBe(0.5);
  });
  test('cannot be told where nothing is expected', () => {
    expect(heardPart({ sources: [source(5, null)] })).toBeNull();
  });
});

describe('the first line about the data', () => {
  test('names every kind of fault there is', () => {
    const faulty = { ...TRUST, sources: [source(99, 100)], conflictCount: 2, refusalCount: 1 };
    expect(sayTrust(faulty, SAYING)).toBe(
      'Of the readings that 30 days should hold, 99.0\u00a0% are here; two values contradict each other and one line was refused.',
    );
  });
  test('names who never sent a line, and never rounds up to all of it', () => {
    const sources = [source(9999, 10_000), { ...source(0, 100), id: 'u3' }];
    expect(sayTrust({ ...TRUST, sources }, SAYING)).toMatch(/99\.0\u00a0% are here; u3 never sent any\./);
    expect(sayTrust({ ...TRUST, sources: [source(99_999, 100_000)] }, SAYING)).toContain('99.9\u00a0%');
  });
  test('never calls a site clean that was not heard', () => {
    expect(sayTrust(TRUST, SAYING)).toMatch(/^Nothing has been heard in 30 days/);
  });
});
