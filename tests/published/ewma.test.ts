import { describe, test } from 'vitest';
import { ewmaHalfWidth, ewmaStep } from '../../ingest/math/ewma.ts';
import { expectAllWithin, expectWithin } from './_expect-within.ts';

const VALUES = [
  52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
];
const AVERAGES = [
  50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73,
  51.23, 51.94, 51.99,
];

describe('ewmaStep: NIST/SEMATECH e-Handbook 6.3.2.4 (λ 0.3, EWMA0 50, s 2.0539)', () => {
  test('all 20 averages are the printed ones', () => {
    let average = 50;
    const averages = VALUES.map((value) => (average = ewmaStep(average, value, 0.3)));
    expectAllWithin(averages, AVERAGES, 0.005 + 1e-9);
  });
  test('the limits are 52.5884 and 47.4115, by the factor 0.4201', () => {
    // The handbook rounds the factor to 0.4201 before it multiplies.
    expectWithin(ewmaHalfWidth(1, 0.3, 1), 0.4201, 5e-5);
    expectWithin(50 + ewmaHalfWidth(2.0539, 0.3, 3), 52.5884, 3.2e-4);
    expectWithin(50 - ewmaHalfWidth(2.0539, 0.3, 3), 47.4115, 3.2e-4);
  });
});

describe('ewmaHalfWidth: derived, variance λ/(2 − λ)·(1 − (1 − λ)²ⁱ)', () => {
  test('after one value it is λ times the width of a single value', () =>
    expectWithin(ewmaHalfWidth(2, 0.3, 3, 1), 1.8, 1e-12));
  test('it widens to its final width', () =>
    expectWithin(ewmaHalfWidth(2, 0.3, 3, 200), ewmaHalfWidth(2, 0.3, 3), 1e-12));
});
