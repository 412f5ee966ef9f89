import { describe, expect, test } from 'vitest';
import {
  type DroopUnit,
  droopSharing,
  droopSharingLimited,
  largestDroopLoadW,
} from '../../ingest/electrical/droop-sharing.ts';
import { expectAllWithin, expectWithin } from './_expect-within.ts';

const MVA = 1e6;
const unit = (noLoadHz: number, fullLoadHz: number, ratedMw: number): DroopUnit => ({
  noLoadHz,
  fullLoadHz,
  ratedW: ratedMw * MVA,
});

const PUBLISHED = [
  {
    source: 'examcrazy.com, common data questions 48 and 49: two 20 MVA sets, 50→48 and 50→47 Hz, 30 MW',
    units: [unit(50, 48, 20), unit(50, 47, 20)],
    loadMw: 30,
    powersMw: [18, 12],
    hz: 48.2,
    within: 1e-9,
  },
  {
    source: 'selfstudy365.com: slopes 1 MW/Hz, no load 51.5 and 51 Hz, 2.5 MW',
    units: [unit(51.5, 50.5, 1), unit(51, 50, 1)],
    loadMw: 2.5,
    powersMw: [1.5, 1],
    hz: 50,
    within: 1e-9,
  },
  {
    source: 'askfilo.com problem, two 2 MVA sets, 50→47.5 and 50→48 Hz, 4 MW; answer derived',
    units: [unit(50, 47.5, 2), unit(50, 48, 2)],
    loadMw: 4,
    powersMw: [1.7778, 2.2222],
    hz: 47.7778,
    within: 5e-5,
  },
] as const;

for (const { source, units, loadMw, powersMw, hz, within } of PUBLISHED)
  describe(`droopSharing: ${source}`, () => {
    test('powers and frequency are the published ones', () => {
      const share = droopSharing(units, loadMw * MVA);
      expectAllWithin(
        share.powersW.map((w) => w / MVA),
        powersMw,
        within,
      );
      expectWithin(share.frequencyHz, hz, within);
    });
  });

// Transformers in parallel share as rating over impedance, which is droop with equal no-load values.
const TRANSFORMERS = [unit(100, 90, 100), unit(100, 91, 150), unit(100, 92, 150)];
const inMva = (powersW: readonly number[]): number[] => powersW.map((w) => w / MVA);

describe('droopSharing: three transformers 100 MVA 10 %, 150 MVA 9 %, 150 MVA 8 % (power-systems-protection.blogspot.com, January 2011)', () => {
  test('at 400 MVA the second carries 146.7889 and the third 165.137, an overload', () => {
    const powers = inMva(droopSharing(TRANSFORMERS, 400 * MVA).powersW);
    expectWithin(powers[0], 88.073394, 5e-7);
    expectWithin(powers[1], 146.7889, 1e-4);
    expectWithin(powers[2], 165.137, 7e-4);
  });
  test('without an overload they carry 363.3 MVA: 80, 133.3 and 150', () => {
    const largest = largestDroopLoadW(TRANSFORMERS);
    expectWithin(largest / MVA, 363.3, 0.05);
    expectWithin((100 * largest) / (400 * MVA), 90.8, 0.05);
    expectAllWithin(inMva(droopSharing(TRANSFORMERS, largest).powersW), [80, 133.3333, 150], 5e-5);
  });
});

describe('droopSharingLimited: derived, each held at its rating', () => {
  test('what the third cannot take overloads the second, and at 400 MVA all three stand at their ratings', () => {
    const share = droopSharingLimited(TRANSFORMERS, 400 * MVA);
    expectAllWithin(inMva(share.powersW), [100, 150, 150], 1e-6);
    expectWithin(share.unservedW / MVA, 0, 1e-6);
  });
  test('at 380 MVA only the third is held: 230 is left, shared 10 to 16.667', () => {
    const share = droopSharingLimited(TRANSFORMERS, 380 * MVA);
    expectAllWithin(inMva(share.powersW), [86.25, 143.75, 150], 1e-9);
    expect(share.isLimited).toEqual([false, false, true]);
  });
  test('beyond all ratings the rest is unserved and droop no longer sets the frequency', () => {
    const share = droopSharingLimited(TRANSFORMERS, 450 * MVA);
    expect(share.frequencyHz).toBeNull();
    expectWithin(share.unservedW / MVA, 50, 1e-9);
  });
});
