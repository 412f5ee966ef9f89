import { expect } from 'vitest';

/** Fails unless actual lies within the tolerance of expected; NaN never does. */
export function expectWithin(actual: number | undefined, expected: number, within: number): void {
  expect(
    Math.abs((actual ?? Number.NaN) - expected),
    `${actual} should be ${expected} ± ${within}`,
  ).toBeLessThanOrEqual(within);
}

export function expectAllWithin(actual: ArrayLike<number>, expected: readonly number[], within: number): void {
  expect(actual).toHaveLength(expected.length);
  for (const [i, value] of expected.entries()) expectWithin(actual[i], value, within);
}
