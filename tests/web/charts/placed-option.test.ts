import { describe, expect, test } from 'vitest';
import { ENGLISH } from '../../../server/views/english.ts';
import { placedOption, windowOfOption } from '../../../web/charts/placed-option.ts';

const PLACE = { leftPx: 58, rightPx: 92 };
const OPTION = {
  grid: { left: 0, right: 1, top: 12, bottom: 28 },
  xAxis: { type: 'time', min: 0, max: 100 },
  yAxis: { axisLabel: {} },
  series: [{ type: 'line', markArea: { data: [[{ yAxis: 'min' }, { yAxis: 49 }]] } }],
};

describe('placedOption', () => {
  const saying = { words: ENGLISH, zone: 'UTC', now: 0 };
  const shown = { window: { from: 20_000, to: 60_000 }, plotPx: 500, saying };
  const placed = placedOption(OPTION, PLACE, shown);
  test('puts the plots beside the rule and its axis over the window', () => {
    expect(placed.grid).toEqual([{ left: 58, right: 92, top: 22, bottom: 28 }]);
    const [axis] = placed.xAxis as [{ min: number; max: number; axisLabel: { customValues: number[] } }];
    expect([axis.min, axis.max]).toEqual([20_000, 60_000]);
    expect(axis.axisLabel.customValues).toEqual([20_000, 30_000, 40_000, 50_000, 60_000]);
  });
  test('a chart over power has no window', () => {
    expect(windowOfOption({ xAxis: { type: 'value', min: 0, max: 9 } })).toBeNull();
    expect(windowOfOption(OPTION)).toEqual({ from: 0, to: 100 });
  });
});
