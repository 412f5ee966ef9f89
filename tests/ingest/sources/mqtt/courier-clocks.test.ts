import { expect, test } from 'vitest';
import { createCourierClocks } from '../../../../ingest/sources/mqtt/_courier-clocks.ts';

const HOUR_MS = 3_600_000;
const T = Date.UTC(2026, 2, 2);
/** Words of a courier whose clock is `aheadMs` ahead, each heard so many ms after it was sent. */
function heard(aheadMs: number, saidMs: number, ways: readonly number[], isRetained = false): number[] {
  const clocks = createCourierClocks();
  return ways.map((way, n) => {
    const sentAt = T + n * 60_000;
    const word = { site: 'millpond', name: 'garden', t: sentAt + aheadMs, offsetMs: saidMs, isMeasured: false };
    return clocks(word, { arrivedAt: sentAt + way, isRetained }).offsetMs;
  });
}

test.each([HOUR_MS, -HOUR_MS])(
  'a clock that is off by %i ms from the start is heard, though its courier can not know',
  (aheadMs) => {
    for (const offsetMs of heard(aheadMs, 0, [40, 30])) expect(Math.abs(offsetMs - aheadMs)).toBeLessThan(50);
  },
);

test('a clock that was set right is right, though the sum of its steps is an hour', () => {
  expect(heard(0, HOUR_MS, [40]).map(Math.abs)[0]).toBeLessThan(50);
});

test('a word that lay at the broker does not make a good clock a bad one for longer than until the next', () => {
  expect(heard(0, 0, [600_000, 50, 600_000])).toEqual([-600_000, 0, 0]);
});

test('what a courier has measured is taken at its word', () => {
  const word = { site: 'millpond', name: 'garden', t: T, offsetMs: -9000, isMeasured: true };
  expect(createCourierClocks()(word, { arrivedAt: T + HOUR_MS, isRetained: false })).toEqual(word);
});

test('a word that was retained may be of any age: what it says is all there is', () => {
  expect(heard(0, 120, [HOUR_MS], true)).toEqual([120]);
});
