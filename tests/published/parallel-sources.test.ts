import { describe, expect, test } from 'vitest';
import { loadBankCheck } from '../../ingest/electrical/load-bank-check.ts';
import {
  nodeVoltageV,
  nodeVoltageWithResistorV,
  parallelCurrentsA,
} from '../../ingest/electrical/parallel-currents.ts';
import { sharingDeviationPct } from '../../ingest/electrical/sharing-deviation.ts';
import { expectAllWithin, expectWithin } from './_expect-within.ts';

const CURRENT_LOADS = [
  {
    source: 'by symmetry: two equal sources halve the load',
    emfV: [230, 230],
    ohm: [0.1, 0.1],
    loadA: 40,
    expectedA: [20, 20],
    expectedV: 228,
    within: 1e-9,
  },
  {
    source: 'current divider: shares go as 1/R (any circuits textbook)',
    emfV: [230, 230],
    ohm: [0.1, 0.3],
    loadA: 40,
    expectedA: [30, 10],
    expectedV: 227,
    within: 1e-9,
  },
  {
    source: 'no load: (E1 − E2)/(R1 + R2) runs round the loop (derived)',
    emfV: [231, 230],
    ohm: [0.05, 0.05],
    loadA: 0,
    expectedA: [10, -10],
    expectedV: 230.5,
    within: 1e-9,
  },
  {
    source:
      'EE-412 course problem, generators 240→220 V at 200 A and 245→220 V at 150 A, 300 A; answer from memory, unverified, exact by arithmetic',
    emfV: [240, 245],
    ohm: [0.1, 1 / 6],
    loadA: 300,
    expectedA: [168.75, 131.25],
    expectedV: 223.125,
    within: 1e-9,
  },
  {
    source: 'exam question (meomock.com), 265→230 V at 350 A with 270→240 V at 400 A, 500 A; answer derived',
    emfV: [265, 270],
    ohm: [0.1, 0.075],
    loadA: 500,
    expectedA: [185.714286, 314.285714],
    expectedV: 246.428571,
    within: 5e-7,
  },
  {
    source: 'derived: 280→240 V at 40 A with 300→240 V at 50 A, 60 A (a page that answers 240 V is wrong)',
    emfV: [280, 300],
    ohm: [1, 1.2],
    loadA: 60,
    expectedA: [23.636, 36.364],
    expectedV: 256.3636,
    within: 5e-4,
  },
] as const;

const RESISTOR_LOADS = [
  {
    source: 'textbook problem with its answer line, quoted in the maker.pro forum, thread 287259',
    emfV: [100, 95],
    ohm: [5, 3],
    loadOhm: 80,
    expectedA: [1.069, 0.115],
    expectedV: 94.66,
    withinA: 6e-4,
    withinV: 5e-3,
  },
  {
    source: 'the same, exact by arithmetic',
    emfV: [100, 95],
    ohm: [5, 3],
    loadOhm: 80,
    expectedA: [1.068702, 0.114504],
    expectedV: 94.656489,
    withinA: 5e-7,
    withinV: 5e-7,
  },
  {
    source: 'assignmentexpert.com question 257004, load current 0.53 A; the rest by arithmetic: one source is charged',
    emfV: [10, 12],
    ohm: [0.5, 0.8],
    loadOhm: 20,
    expectedA: [-1.212121, 1.742424],
    expectedV: 10.606061,
    withinA: 5e-7,
    withinV: 5e-7,
  },
] as const;

for (const { source, emfV, ohm, loadA, expectedA, expectedV, within } of CURRENT_LOADS)
  describe(`parallelCurrentsA: ${source}`, () => {
    test('the currents are the published ones, and add up to the load', () => {
      const currentsA = parallelCurrentsA(emfV, ohm, loadA);
      expectAllWithin(currentsA, expectedA, within);
      expectWithin(
        currentsA.reduce((total, a) => total + a, 0),
        loadA,
        1e-9,
      );
    });
    test('the node voltage is the published one', () =>
      expectWithin(nodeVoltageV(emfV, ohm, loadA), expectedV, within));
  });

for (const { source, emfV, ohm, loadOhm, expectedA, expectedV, withinA, withinV } of RESISTOR_LOADS)
  describe(`nodeVoltageWithResistorV: ${source}`, () => {
    test('voltage and currents are the published ones', () => {
      const nodeV = nodeVoltageWithResistorV(emfV, ohm, loadOhm);
      expectWithin(nodeV, expectedV, withinV);
      expectAllWithin(parallelCurrentsA(emfV, ohm, nodeV / loadOhm), expectedA, withinA);
    });
  });

describe('parallelCurrentsA: expertsmind.com question 3017392, two shunt generators on 4000 A', () => {
  // Each field of 40 Ω hangs on the bus: it adds V/40 to what its own armature delivers.
  const nodeV = nodeVoltageWithFields([480, 490], 0.02, 40, 4000);
  const terminalA = [480, 490].map((emf) => (emf - nodeV) / 0.02 - nodeV / 40);
  test('the bus stands at 444.8 V', () => expectWithin(nodeV, 444.8, 0.05));
  test('they deliver 1750 and 2250 A', () => expectAllWithin(terminalA, [1750, 2250], 0.5));
  test('they deliver 778.4 and 1001 kW', () => {
    expectWithin((terminalA[0]! * nodeV) / 1000, 778.4, 0.05);
    expectWithin((terminalA[1]! * nodeV) / 1000, 1001, 0.5);
  });
});

/** Behind the armature resistance the field is a divider: E·Rf/(Ra + Rf) behind Ra ∥ Rf. */
function nodeVoltageWithFields(emfV: readonly number[], armatureOhm: number, fieldOhm: number, loadA: number): number {
  const divider = fieldOhm / (armatureOhm + fieldOhm);
  return nodeVoltageV(
    emfV.map((emf) => emf * divider),
    emfV.map(() => armatureOhm * divider),
    loadA,
  );
}

describe('sharingDeviationPct: ISO 8528-5, 13.1 (from memory, unverified)', () => {
  test('3.3 and 2.7 kW on two sets of 5 kW are 6 points of the rating from even', () => {
    expectAllWithin(sharingDeviationPct([3300, 2700], [5000, 5000]), [6, -6], 1e-9);
  });
});

describe('loadBankCheck: common practice, the units together read a load bank within 5 %', () => {
  test('two 6 kW units at 30 and 33 % say 3780 W, which agrees with 3.9 kW', () => {
    const check = loadBankCheck(
      [
        { loadPct: 30, ratedW: 6000 },
        { loadPct: 33, ratedW: 6000 },
      ],
      3900,
    );
    expectWithin(check.sumW, 3780, 1e-9);
    expectWithin(check.deviationPct, -3.0769, 5e-5);
    expect(check.agrees).toBe(true);
  });
  test('the same readings do not agree with 4 kW', () => {
    expect(
      loadBankCheck(
        [
          { loadPct: 30, ratedW: 6000 },
          { loadPct: 33, ratedW: 6000 },
        ],
        4000,
      ).agrees,
    ).toBe(false);
  });
});
