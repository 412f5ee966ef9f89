import { describe, test } from 'vitest';
import { reliabilityIndices } from '../../ingest/electrical/reliability.ts';
import { expectWithin } from './_expect-within.ts';

const at = (h: number, m: number, s: number): number => h * 60 + m + s / 60;
const SAMPLE = [
  { customers: 200, durationMin: at(12, 20, 30) - at(12, 12, 20) },
  { customers: 400, durationMin: at(18, 24, 26) - at(18, 23, 56) },
  { customers: 600, durationMin: at(1, 34, 29) - at(0, 23, 10) },
  { customers: 25, durationMin: at(23, 47, 14) - at(23, 17, 0) },
  { customers: 2000, durationMin: at(9, 31, 10) - at(9, 30, 10) },
  { customers: 90, durationMin: at(20, 12, 50) - at(15, 45, 39) },
  { customers: 700, durationMin: 120 },
  { customers: 1500, durationMin: 10 },
  { customers: 100, durationMin: 40 },
];

describe('reliabilityIndices: IEEE 1366, clause 3 examples, 2000 customers (table and printed figures from memory, unverified; the arithmetic agrees)', () => {
  const indices = reliabilityIndices(SAMPLE, 2000);
  const printed = [
    { what: 'SAIFI', actual: indices.saifi, value: 1.61, within: 0.005 },
    { what: 'SAIDI, min', actual: indices.saidiMin, value: 86.11, within: 0.005 },
    { what: 'CAIDI, min', actual: indices.caidiMin, value: 53.57, within: 0.005 },
    { what: 'ASAI', actual: indices.asai, value: 0.999836, within: 5e-7 },
    { what: 'MAIFI', actual: indices.maifi, value: 1.2, within: 1e-12 },
  ];
  test.each(printed)('$what is $value', ({ actual, value, within }) =>
    expectWithin(actual ?? undefined, value, within),
  );
});

const FILING = 'regulatory filing of a distribution utility, Q4 2017-18 (pgvcl.com, SoP MIS, sheet 9)';
const FREQUENCIES = [
  { source: FILING, index: 'saifi', customers: 9_677_909, served: 1_142_486, value: 8.47 },
  { source: FILING, index: 'saifi', customers: 8_896_776, served: 1_144_234, value: 7.78 },
  { source: FILING, index: 'saifi', customers: 8_717_401, served: 1_147_912, value: 7.59 },
  { source: FILING, index: 'saifi', customers: 27_292_086, served: 1_147_912, value: 23.78 },
  { source: FILING, index: 'maifi', customers: 15_141_468, served: 1_142_486, value: 13.25 },
  { source: FILING, index: 'maifi', customers: 12_835_791, served: 1_144_234, value: 11.22 },
  { source: FILING, index: 'maifi', customers: 14_873_762, served: 1_147_912, value: 12.96 },
  { source: FILING, index: 'maifi', customers: 42_851_021, served: 1_147_912, value: 37.33 },
] as const;
for (const { source, index, customers, served, value } of FREQUENCIES)
  describe(`reliabilityIndices: ${source}`, () => {
    test(`${index.toUpperCase()} of ${customers} interruptions of ${served} customers is ${value}`, () => {
      const durationMin = index === 'saifi' ? 60 : 1;
      expectWithin(reliabilityIndices([{ customers, durationMin }], served)[index], value, 0.005);
    });
  });

const DURATIONS = [
  { source: FILING, customerDays: 853_100.65, served: 1_142_486, minutes: 17 * 60 + 55 },
  { source: FILING, customerDays: 805_681.89, served: 1_144_234, minutes: 16 * 60 + 53 },
  { source: FILING, customerDays: 731_554.73, served: 1_147_912, minutes: 15 * 60 + 17 },
  { source: FILING, customerDays: 2_390_337.27, served: 1_147_912, minutes: 49 * 60 + 58 },
] as const;
for (const { source, customerDays, served, minutes } of DURATIONS)
  describe(`reliabilityIndices: ${source}, printed in hours and minutes`, () => {
    test(`SAIDI of ${customerDays} customer-days of ${served} customers is ${minutes} min`, () => {
      // The filing cuts to whole minutes in some rows and rounds in others, so one minute.
      expectWithin(reliabilityIndices([{ customers: customerDays, durationMin: 1440 }], served).saidiMin, minutes, 1);
    });
  });
