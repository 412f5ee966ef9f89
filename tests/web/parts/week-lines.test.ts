import { describe, expect, test } from 'vitest';
import { weekLines } from '../../../web/parts/week-lines.ts';

const DAY = 86_400_000;
const MONDAY = Date.UTC(2026, 3, 13);

describe('weekLines', () => {
  test('stand at every Monday of the stretch and nowhere else', () => {
    const lines = weekLines(MONDAY - 29 * DAY, MONDAY + DAY, 300);
    expect(lines.map(({ at }) => new Date(at).getUTCDay())).toEqual([1, 1, 1, 1, 1]);
    expect(lines.at(-1)).toEqual({ at: MONDAY, x: 290 });
  });
  test('a stretch that begins on a Monday has a line at its very start', () => {
    expect(weekLines(MONDAY, MONDAY + 7 * DAY, 70)).toEqual([{ at: MONDAY, x: 0 }]);
  });
});
