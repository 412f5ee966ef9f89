import { describe, expect, test } from 'vitest';
import type { Chart } from '../../../server/views/chart.ts';
import { instantNear, linesOf, nearest, readout } from '../../../web/charts/readout-lines.ts';

const POINTS: readonly (readonly [number, number | null])[] = [
  [0, 230.1],
  [10, 229.9],
  [20, null],
  [40, 231],
];
const CHART: Chart = {
  title: 'Output voltage',
  unit: 'V',
  label: 'Output voltage on one time axis.',
  height: 100,
  option: {
    title: [{ text: '{b|Output voltage} {u|V}' }],
    series: [
      { type: 'line', data: POINTS },
      {
        type: 'line',
        name: 'u1',
        yAxisIndex: 0,
        data: POINTS,
        tooltip: { valueFormatter: (value: number) => value.toFixed(1) },
      },
      { type: 'scatter', name: 'not a line', data: [] },
    ],
  },
  table: () => ({ columns: [], rows: [] }),
};

describe('nearest', () => {
  test.each([
    [-5, 0],
    [4, 0],
    [6, 1],
    [31, 3],
    [99, 3],
  ])('of %d ms is reading %d', (t, place) => {
    expect(nearest(POINTS, t)).toBe(place);
  });
  test('of no readings is none', () => {
    expect(nearest([], 5)).toBe(-1);
  });
});

describe('readout', () => {
  const lines = linesOf(CHART);
  test('speaks of named lines only, with the unit of their plot', () => {
    expect(readout(lines, 9, 5)).toEqual([{ name: 'Output voltage u1', figure: '229.9\u00a0V' }]);
  });
  test('says nothing in a gap, and nothing of a reading that is far', () => {
    expect(readout(lines, 20, 5)).toEqual([]);
    expect(readout(lines, 31, 5)).toEqual([]);
  });
  test('steps from reading to reading and stops at the ends', () => {
    expect(instantNear(lines, 9, 1)).toBe(20);
    expect(instantNear(lines, 40, 10)).toBe(40);
    expect(instantNear([], 40)).toBeNull();
  });
});
