import { describe, expect, test } from 'vitest';
import {
  conductorOhmPerKm,
  linearTemperatureRatio,
  pathResistanceOhm,
  temperatureRatio,
} from '../../../ingest/electrical/cable-resistance.ts';

const cable = { length_m: 6, area_mm2: 16, material: 'copper' } as const;

describe('pathResistanceOhm', () => {
  test('counts both conductors of a one-way length', () =>
    expect(pathResistanceOhm(cable, 20)).toBeCloseTo((12 / 1000) * 1.15, 12));
  test('aluminium of the same size has 1.64 times the resistance', () => {
    expect(pathResistanceOhm({ ...cable, material: 'aluminium' }, 20) / pathResistanceOhm(cable, 20)).toBeCloseTo(
      1.6393,
      4,
    );
  });
  test('a flexible conductor has a little more', () =>
    expect(pathResistanceOhm(cable, 20, 5)).toBeGreaterThan(pathResistanceOhm(cable, 20, 2)));
  test('no length is no resistance', () => expect(pathResistanceOhm({ ...cable, length_m: 0 }, 20)).toBe(0));
  test('refuses a negative length, no area and a missing temperature', () => {
    expect(() => pathResistanceOhm({ ...cable, length_m: -1 }, 20)).toThrow('length -1 m');
    expect(() => pathResistanceOhm({ ...cable, area_mm2: 0 }, 20)).toThrow('area 0 mm²');
    expect(() => pathResistanceOhm(cable, Number.NaN)).toThrow('temperature NaN °C');
  });
});

describe('conductorOhmPerKm', () => {
  test('falls as the area grows, in the table and beside it', () => {
    const areas = [1, 1.5, 2, 2.5, 3, 4, 6, 8, 10, 16, 25, 35, 50, 70, 95, 120, 150, 185, 240, 300];
    for (const conductorClass of [2, 5] as const) {
      const ohms = areas.map((area) => conductorOhmPerKm(area, 'copper', conductorClass));
      for (const [i, ohm] of ohms.slice(1).entries()) expect(ohm).toBeLessThan(ohms[i]!);
    }
  });
});

describe('temperatureRatio and linearTemperatureRatio', () => {
  test('are 1 at 20 °C', () =>
    expect([temperatureRatio('copper', 20), temperatureRatio('aluminium', 20), linearTemperatureRatio(20)]).toEqual([
      1, 1, 1,
    ]));
  test('refuse a missing temperature', () => {
    expect(() => temperatureRatio('copper', Number.NaN)).toThrow(RangeError);
    expect(() => linearTemperatureRatio(Number.NaN)).toThrow(RangeError);
  });
});
