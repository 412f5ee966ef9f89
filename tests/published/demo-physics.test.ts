import { describe, expect, test } from 'vitest';
import { createBank, LFP_OCV, stepBank } from '../../ingest/demo/battery.ts';
import { cableOhm, createNode, solveNode } from '../../ingest/demo/sharing.ts';

const NODES = [
  {
    source: 'coursehero EE-412 problem, answer from memory, recomputed: 240 V/0.1 Ω and 245 V/(1/6) Ω at 300 A',
    emfV: [240, 245],
    ohm: [0.1, 1 / 6],
    loadA: 300,
    currentsA: [168.75, 131.25],
    nodeV: 223.125,
  },
  {
    source: 'meomock.com exam question, answer computed: 265 V/0.1 Ω and 270 V/0.075 Ω at 500 A',
    emfV: [265, 270],
    ohm: [0.1, 0.075],
    loadA: 500,
    currentsA: [185.714286, 314.285714],
    nodeV: 246.428571,
  },
  {
    source: 'assignmentexpert.com 257004: 10 V/0.5 Ω is charged by 12 V/0.8 Ω while both feed 20 Ω',
    emfV: [10, 12],
    ohm: [0.5, 0.8],
    loadA: 0.530303,
    currentsA: [-1.212121, 1.742424],
    nodeV: 10.606061,
  },
  {
    source: 'derived: no load, (E1 − E2)/(R1 + R2) runs round the loop',
    emfV: [231, 230],
    ohm: [0.05, 0.05],
    loadA: 0,
    currentsA: [10, -10],
    nodeV: 230.5,
  },
];

describe('solveNode', () => {
  test.each(NODES)('agrees with $source', ({ emfV, ohm, loadA, currentsA, nodeV }) => {
    const node = createNode(2);
    node.emfV.set(emfV);
    node.pathOhm.set(ohm);
    expect(solveNode(node, [0, 1], loadA)).toBeCloseTo(nodeV, 5);
    currentsA.forEach((a, i) => {
      expect(node.currentA[i]).toBeCloseTo(a, 5);
    });
  });
});

const CABLES = [
  {
    source: 'derived: 1/58 Ω·mm²/m, 6 m and back at 16 mm², 20 °C',
    lengthM: 6,
    areaMm2: 16,
    temperatureC: 20,
    milliohm: 12.931,
  },
  {
    source: 'derived: the same at 70 °C, 0.00393 per kelvin',
    lengthM: 6,
    areaMm2: 16,
    temperatureC: 70,
    milliohm: 15.472,
  },
];

describe('cableOhm', () => {
  test.each(CABLES)('agrees with $source', ({ lengthM, areaMm2, temperatureC, milliohm }) => {
    expect(1000 * cableOhm({ lengthM, areaMm2 }, temperatureC)).toBeCloseTo(milliohm, 3);
  });
});

describe('stepBank', () => {
  const PARKING = [
    {
      source:
        'derived: Δz = (I/α)(Ra·Qa − Rb·Qb)/(Qa + Qb); 100 Ah each, 10 and 12 mΩ, 5 A (a tenth of 50 A and of 7.47 %), 0.669 V per unit of charge',
      packs: [
        { capacityAh: 100, resistanceOhm: 0.01 },
        { capacityAh: 100, resistanceOhm: 0.012 },
      ],
      totalA: 5,
      partedBy: -0.00747,
    },
    {
      source: 'derived: the same law, unequal capacities with equal R·Q do not part',
      packs: [
        { capacityAh: 100, resistanceOhm: 0.012 },
        { capacityAh: 200, resistanceOhm: 0.006 },
      ],
      totalA: 6,
      partedBy: 0,
    },
  ];
  test.each(PARKING)('parks two packs apart as $source', ({ packs, totalA, partedBy }) => {
    // One straight line, so that the closed form holds over the whole discharge.
    const bank = createBank(packs, 0.99, { charge: [0, 1], cellV: [3.2572, 3.2572 + 0.669 / 16] });
    // 12 h are seven time constants; at the full current the packs would run dry before they had parted.
    for (let s = 0; s < 12 * 3600; s += 10) stepBank(bank, totalA, 10);
    expect(Math.abs(bank.charge[0]! - bank.charge[1]! - partedBy)).toBeLessThan(0.0001);
  });

  test('the open-circuit curve passes through the published cell voltages at 50 and 98 % charge (Piecewise-Battery-OCV data)', () => {
    expect(LFP_OCV.cellV[LFP_OCV.charge.indexOf(0.5)]).toBe(3.2991);
    expect(LFP_OCV.cellV[LFP_OCV.charge.indexOf(0.98)]).toBe(3.3481);
  });
});
