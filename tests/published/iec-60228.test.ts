import { describe, test } from 'vitest';
import {
  conductorOhmPerKm,
  linearTemperatureRatio,
  pathResistanceOhm,
  RESISTIVITY_20,
  temperatureRatio,
} from '../../ingest/electrical/cable-resistance.ts';
import { expectedWiredShare } from '../../ingest/electrical/expected-wired-share.ts';
import { expectAllWithin, expectWithin } from './_expect-within.ts';

const IEC_60228 = [
  {
    source: 'IEC 60228 class 2 (kabelmetal-indonesia.com table A.2; uecables.com)',
    conductorClass: 2,
    ohmPerKm: [
      [1.5, 12.1],
      [2.5, 7.41],
      [4, 4.61],
      [6, 3.08],
      [10, 1.83],
      [16, 1.15],
      [25, 0.727],
      [35, 0.524],
      [50, 0.387],
      [70, 0.268],
      [95, 0.193],
      [120, 0.153],
      [150, 0.124],
      [185, 0.0991],
      [240, 0.0754],
    ],
  },
  {
    source: 'IEC 60228 class 5 (etechnik-synergie.com, DIN VDE 0295; mycableengineering.com)',
    conductorClass: 5,
    ohmPerKm: [
      [1.5, 13.3],
      [2.5, 7.98],
      [4, 4.95],
      [6, 3.3],
      [10, 1.91],
      [16, 1.21],
      [25, 0.78],
      [35, 0.554],
      [50, 0.386],
      [70, 0.272],
      [95, 0.206],
      [120, 0.161],
      [150, 0.129],
      [185, 0.106],
      [240, 0.0801],
    ],
  },
] as const;

for (const { source, conductorClass, ohmPerKm } of IEC_60228)
  describe(`conductorOhmPerKm: ${source}`, () => {
    test.each(ohmPerKm.map(([area, ohm]) => ({ area, ohm })))('$area mm² has $ohm Ω/km', ({ area, ohm }) => {
      expectWithin(conductorOhmPerKm(area, 'copper', conductorClass), ohm, 1e-12);
    });
  });

describe('conductorOhmPerKm: IEC 60228 class 2 aluminium (from memory, unverified), for the size of the error', () => {
  test.each([
    { area: 16, ohm: 1.91 },
    { area: 25, ohm: 1.2 },
    { area: 35, ohm: 0.868 },
  ])('copper times the ratio of resistivities is within 1.5 % of $ohm Ω/km at $area mm²', ({ area, ohm }) => {
    expectWithin(conductorOhmPerKm(area, 'aluminium', 2), ohm, 0.015 * ohm);
  });
});

describe('conductorOhmPerKm: IEC 60028, ρ20 = 1/58 Ω·mm²/m (from memory, unverified)', () => {
  test('an area outside the table is ρ·l/A', () => {
    expectWithin(RESISTIVITY_20.copper, 0.017241, 5e-7);
    expectWithin(conductorOhmPerKm(3, 'copper', 2), 17.241 / 3, 5e-4);
  });
});

describe('linearTemperatureRatio: correction factors Kt used with IEC 60228 (uecables.com), R20 = Rt·Kt, α = 0.004', () => {
  test.each([
    { c: 5, kt: 1.064 },
    { c: 10, kt: 1.042 },
    { c: 25, kt: 0.98 },
    { c: 30, kt: 0.962 },
    { c: 40, kt: 0.926 },
    { c: 50, kt: 0.893 },
    { c: 70, kt: 0.833 },
    { c: 90, kt: 0.781 },
  ])('at $c °C Kt is $kt', ({ c, kt }) => expectWithin(1 / linearTemperatureRatio(c, 0.004), kt, 5e-4));
});

describe('temperatureRatio: exact copper form 254.5/(234.5 + t) (form from memory, unverified; figures by arithmetic)', () => {
  test.each([
    { c: 40, kt: 0.927 },
    { c: 70, kt: 0.836 },
    { c: 90, kt: 0.784 },
    { c: 20, kt: 1 },
  ])('at $c °C it is $kt', ({ c, kt }) => {
    expectWithin(1 / temperatureRatio('copper', c), kt, 5e-4);
  });
  test('α20 = 0.00393 per kelvin gives the same to 0.1 % from 0 to 90 °C', () => {
    for (let c = 0; c <= 90; c += 10) expectWithin(linearTemperatureRatio(c) / temperatureRatio('copper', c), 1, 1e-3);
  });
});

const VOLTAGE_DROP = [
  {
    source: 'BS 7671 Table 4D5, two-core 2.5 mm² copper at 70 °C: 18 mV/A/m, as quoted in two public test files',
    area: 2.5,
    mvPerAm: 18,
    within: 0.5,
  },
  { source: 'BS 7671 (from memory, unverified) 1.5 mm²', area: 1.5, mvPerAm: 29, within: 0.5 },
  { source: 'BS 7671 (from memory, unverified) 4 mm²', area: 4, mvPerAm: 11, within: 0.5 },
  { source: 'BS 7671 (from memory, unverified) 6 mm²', area: 6, mvPerAm: 7.3, within: 0.1 },
  { source: 'BS 7671 (from memory, unverified) 10 mm²', area: 10, mvPerAm: 4.4, within: 0.05 },
  { source: 'BS 7671 (from memory, unverified) 16 mm²', area: 16, mvPerAm: 2.8, within: 0.05 },
] as const;

for (const { source, area, mvPerAm, within } of VOLTAGE_DROP)
  describe(`pathResistanceOhm crosses over to ${source}`, () => {
    test('one metre out and back at 70 °C drops as many mV an ampere', () => {
      expectWithin(1000 * pathResistanceOhm({ length_m: 1, area_mm2: area, material: 'copper' }, 70), mvPerAm, within);
    });
  });

// The quoted drops follow from the table's rounded 18 mV/A/m, so the tolerance is its half step times A and m, and for the share the quote's own rounding.
const QUOTED_DROPS = [
  {
    source: 'two public test files quoting BS 7671 Table 4D5',
    a: 5,
    v: 0.9,
    withinV: 0.025,
    pct: 0.39,
    withinPct: 0.016,
  },
  {
    source: 'two public test files quoting BS 7671 Table 4D5',
    a: 20,
    v: 3.6,
    withinV: 0.1,
    pct: 1.6,
    withinPct: 0.094,
  },
] as const;

for (const { source, a, v, withinV, pct, withinPct } of QUOTED_DROPS)
  describe(`voltage drop: ${source}, ${a} A`, () => {
    test(`10 m of 2.5 mm² at 70 °C drop ${v} V, ${pct} % of 230 V`, () => {
      const drop = a * pathResistanceOhm({ length_m: 10, area_mm2: 2.5, material: 'copper' }, 70);
      expectWithin(drop, v, withinV);
      expectWithin((100 * drop) / 230, pct, withinPct);
    });
  });

describe('expectedWiredShare: derived from IEC 60228 class 5, 35 mm² at 20 °C', () => {
  const near = pathResistanceOhm({ length_m: 2, area_mm2: 35, material: 'copper' }, 20, 5);
  const far = pathResistanceOhm({ length_m: 3, area_mm2: 35, material: 'copper' }, 20, 5);
  test('2 m out and 2 m back are 2.216 mΩ and drop 0.3324 V at 150 A', () => {
    expectWithin(near * 1000, 2.216, 5e-4);
    expectWithin(near * 150, 0.3324, 5e-5);
    expectWithin(far * 1000, 3.324, 5e-4);
  });
  test('2 m beside 3 m share 60 to 40', () => {
    expectAllWithin(
      expectedWiredShare([
        { cablesOhm: near, contactOhm: 0 },
        { cablesOhm: far, contactOhm: 0 },
      ]),
      [0.6, 0.4],
      1e-12,
    );
  });
  test('contacts that equal the difference of the cables make it even', () => {
    expectAllWithin(
      expectedWiredShare([
        { cablesOhm: near, contactOhm: far - near },
        { cablesOhm: far, contactOhm: 0 },
      ]),
      [0.5, 0.5],
      1e-12,
    );
  });
});
