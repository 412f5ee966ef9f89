import { describe, test } from 'vitest';
import { deming } from '../../ingest/math/deming.ts';
import { linearFit } from '../../ingest/math/linear-fit.ts';
import { expectWithin } from './_expect-within.ts';

const X = [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
const Y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];

describe("deming: Pearson, Philosophical Magazine 2, 1901, data as in York's papers, δ = 1", () => {
  const fit = deming(X, Y, 1);
  // Pearson's intercept, 5.7857, is worked with his rounded means; his slope holds to its last digit.
  test("the slope is Pearson's −0.546", () => expectWithin(fit?.slope, -0.546, 5e-4));
  test('the intercept is 5.784043774530 (orthogonal line, by arithmetic with NumPy 2.4.6)', () =>
    expectWithin(fit?.intercept, 5.78404377453, 5e-12));
  test('the slope is −0.545561197521 (orthogonal line, by arithmetic with NumPy 2.4.6)', () =>
    expectWithin(fit?.slope, -0.545561197521, 5e-13));
});

describe("linearFit: Pearson's data, as in the kapteyn package's tutorial", () => {
  const fit = linearFit(X, Y);
  test('the slope is −0.539577274984', () => expectWithin(fit?.slope, -0.539577274984, 5e-13));
  test('the intercept is 5.761185190439', () => expectWithin(fit?.intercept, 5.761185190439, 5e-12));
});

describe('deming: derived', () => {
  test('with very small errors in x it is the ordinary line', () =>
    expectWithin(deming(X, Y, 1e12)?.slope, linearFit(X, Y)!.slope, 1e-9));
  test('with very small errors in y it is the ordinary line of x on y', () =>
    expectWithin(deming(X, Y, 1e-12)?.slope, 1 / linearFit(Y, X)!.slope, 1e-9));
  test('its standard error is that of a direct jackknife', () => {
    const slopes = X.map(
      (_, out) =>
        deming(
          X.filter((_, i) => i !== out),
          Y.filter((_, i) => i !== out),
          1,
        )!.slope,
    );
    const centre = slopes.reduce((total, slope) => total + slope, 0) / 10;
    const error = Math.sqrt(0.9 * slopes.reduce((total, slope) => total + (slope - centre) ** 2, 0));
    expectWithin(deming(X, Y, 1)?.slopeError, error, 1e-12);
  });
});
