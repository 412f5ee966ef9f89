import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  nodeVoltageV,
  nodeVoltageWithResistorV,
  parallelCurrentsA,
} from '../../../ingest/electrical/parallel-currents.ts';

describe('parallelCurrentsA', () => {
  test('says which figure is wrong when a resistance is zero', () => {
    expect(() => parallelCurrentsA([230, 230], [0.1, 0], 10)).toThrow('resistance 0 Ω is not above 0');
  });
  test('refuses a missing voltage, a missing load and lengths that differ', () => {
    expect(() => parallelCurrentsA([230, Number.NaN], [0.1, 0.1], 10)).toThrow('voltage NaN V');
    expect(() => parallelCurrentsA([230], [0.1], Number.NaN)).toThrow('load current NaN A');
    expect(() => parallelCurrentsA([230, 230], [0.1, 0.1, 0.1], 10)).toThrow('2 voltages but 3 resistances');
    expect(() => parallelCurrentsA([], [], 10)).toThrow('needs at least 1 source');
  });
  test('the currents always add up to the load', () => {
    const source = fc.record({
      emf: fc.double({ min: 200, max: 250, noNaN: true }),
      ohm: fc.double({ min: 0.001, max: 1, noNaN: true }),
    });
    fc.assert(
      fc.property(
        fc.array(source, { minLength: 1, maxLength: 8 }),
        fc.double({ min: -500, max: 500, noNaN: true }),
        (sources, loadA) => {
          const currentsA = parallelCurrentsA(
            sources.map((s) => s.emf),
            sources.map((s) => s.ohm),
            loadA,
          );
          expect(currentsA.reduce((total, a) => total + a, 0)).toBeCloseTo(loadA, 5);
        },
      ),
      { seed: 7 },
    );
  });
});

describe('nodeVoltageWithResistorV', () => {
  test('is the voltage at which the sources give what the resistor draws', () => {
    const nodeV = nodeVoltageWithResistorV([231, 229], [0.05, 0.08], 6);
    expect(nodeVoltageV([231, 229], [0.05, 0.08], nodeV / 6)).toBeCloseTo(nodeV, 10);
  });
  test('without a load is the voltage at no current', () => {
    expect(nodeVoltageWithResistorV([231, 229], [0.05, 0.08], Number.POSITIVE_INFINITY)).toBe(
      nodeVoltageV([231, 229], [0.05, 0.08], 0),
    );
  });
  test('refuses a load of 0 Ω', () =>
    expect(() => nodeVoltageWithResistorV([231], [0.05], 0)).toThrow('load resistance 0 Ω'));
});
