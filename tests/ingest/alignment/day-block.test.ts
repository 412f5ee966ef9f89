import { expect, test } from 'vitest';
import { columnOf, type SourceDay } from '../../../ingest/alignment/day-block.ts';

const power = Float64Array.of(1, Number.NaN);
const day: SourceDay = { id: 'u1', tMs: Float64Array.of(0, 1), columns: new Map([['output_power_w', power]]) };

test('columnOf gives the column itself, gaps and all', () => {
  expect(columnOf(day, 'output_power_w')).toBe(power);
});

test.each([
  ['the quantity was absent all day', day],
  ['the source was silent', undefined],
  ['there is no such source', null],
])('columnOf gives null, never zeros, where %s', (_, source) => {
  expect(columnOf(source, 'output_voltage_v')).toBeNull();
});
