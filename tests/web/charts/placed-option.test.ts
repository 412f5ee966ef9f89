import { describe, expect, test } from 'vitest';
import { placedOption, windowOfOption } from '../../../web/charts/placed-option.ts';

const PLACE = { leftPx: 58, rightPx: 92 };
const OPTION = {
  dataZoom: [{ type: 'inside' }],
  grid: { left: 0, right: 1, top: 12, bottom: 28 },
  xAxis: { type: 'time', min: 0, max: 100 },
  yAxis: { axisLabel: {} },
  series: [{ type: 'line', markArea: { data: [[{ yAxis: 'min' }, { yAxis: 49 }]] } }],
};

describe('placedOption', () => {
  const placed = placedOption(OPTION, PLACE, { from: 20, to: 60 });
  test('puts the plots beside the rule and its axis over the window', () => {
    expect(placed.grid).toEqual([{ left: 58, right: 92, top: 22, bottom: 28 }]);
    expect(placed.xAxis).toEqual([{ type: 'time', min: 20, max: 60 }]);
  });
  test('takes out what the host does by itself', () => {
    expect(placed).not.toHaveProperty('dataZoom');
  });
  test('shades to the end of the axis, not to the least reading', () => {
    expect(placed.series).toMatchObject([
      { markArea: { data: [[{ yAxis: Number.NEGATIVE_INFINITY }, { yAxis: 49 }]] } },
    ]);
  });
  test('a chart over power has no window', () => {
    expect(windowOfOption({ xAxis: { type: 'value', min: 0, max: 9 } })).toBeNull();
    expect(windowOfOption(OPTION)).toEqual({ from: 0, to: 100 });
  });
});
