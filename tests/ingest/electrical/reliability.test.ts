import { describe, expect, test } from 'vitest';
import { reliabilityIndices } from '../../../ingest/electrical/reliability.ts';

describe('reliabilityIndices', () => {
  test('a period without interruptions has no mean duration', () => {
    expect(reliabilityIndices([], 100)).toEqual({ saifi: 0, saidiMin: 0, caidiMin: null, asai: 1, maifi: 0 });
  });
  test('five minutes are momentary, a second more is sustained', () => {
    expect(reliabilityIndices([{ customers: 10, durationMin: 5 }], 10)).toMatchObject({ saifi: 0, maifi: 1 });
    expect(reliabilityIndices([{ customers: 10, durationMin: 5 + 1 / 60 }], 10)).toMatchObject({ saifi: 1, maifi: 0 });
  });
  test('out for the whole period is an availability of 0', () =>
    expect(reliabilityIndices([{ customers: 1, durationMin: 60 }], 1, 1).asai).toBe(0));
  test('refuses nobody served, a negative duration and a missing one', () => {
    expect(() => reliabilityIndices([], 0)).toThrow('0 customers served');
    expect(() => reliabilityIndices([{ customers: 1, durationMin: -1 }], 1)).toThrow('for -1 min');
    expect(() => reliabilityIndices([{ customers: 1, durationMin: Number.NaN }], 1)).toThrow(RangeError);
    expect(() => reliabilityIndices([], 1, 0)).toThrow('period 0 h');
  });
});
