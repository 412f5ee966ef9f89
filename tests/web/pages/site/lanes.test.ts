import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { layMarks } from '../../../../web/pages/site/lanes.ts';

const WINDOW = { from: 0, to: 1000 };
const aMark = fc.record({
  from: fc.integer({ min: -200, max: 1200 }),
  length: fc.integer({ min: 1, max: 400 }),
  text: fc.string({ maxLength: 20 }),
});

describe('layMarks', () => {
  test('no two marks of one lane lie on each other', () => {
    fc.assert(
      fc.property(fc.array(aMark, { maxLength: 20 }), (asked) => {
        const marks = asked.map(({ from, length, text }) => ({ from, to: from + length, text }));
        const { laid, lanes } = layMarks(marks, WINDOW, 900);
        for (let lane = 0; lane < lanes; lane += 1) {
          const own = laid.filter((one) => one.lane === lane).sort((a, b) => a.left - b.left);
          own.slice(1).forEach((next, i) => {
            expect(own[i]!.left + own[i]!.width).toBeLessThanOrEqual(next.left + 1e-9);
          });
        }
        expect(laid.length).toBe(marks.filter(({ from, to }) => to > 0 && from < 1000).length);
      }),
    );
  });
  test('a text that finds no room at the right stands at the left of its mark', () => {
    const { laid } = layMarks([{ from: 990, to: 1000, text: 'u2: share drifts' }], WINDOW, 900);
    expect(laid[0]).toMatchObject({ isTextLeft: true, lane: 0 });
  });
});
