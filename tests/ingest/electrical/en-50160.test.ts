import { describe, expect, test } from 'vitest';
import { EN_50160_FREQUENCY, en50160Compliance } from '../../../ingest/electrical/en-50160.ts';

const band = EN_50160_FREQUENCY.interconnected;

describe('en50160Compliance', () => {
  test('cannot tell from gaps alone', () => {
    expect(en50160Compliance([Number.NaN], 50, band)).toEqual({
      count: 0,
      outsideInner: 0,
      outsideOuter: 0,
      innerSharePct: Number.NaN,
      complies: null,
    });
  });
  test('does not count a gap as within', () =>
    expect(en50160Compliance([50, Number.NaN, 49], 50, band)).toMatchObject({ count: 2, innerSharePct: 50 }));
  test('refuses a nominal of 0 and an infinite mean', () => {
    expect(() => en50160Compliance([50], 0, band)).toThrow('nominal 0');
    expect(() => en50160Compliance([Number.POSITIVE_INFINITY], 50, band)).toThrow('at index 0 is not finite');
  });
});
