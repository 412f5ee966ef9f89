export interface Quadrature {
  readonly nodes: Float64Array;
  readonly weights: Float64Array;
}

/**
 * Nodes and weights of Gauss–Legendre quadrature on an interval.
 *
 * @param count  number of nodes, whole, at least 1; exact for polynomials of degree 2·count − 1
 * @param from   lower end, any unit
 * @param to     upper end, same unit
 * @returns nodes in ascending order, and weights in the same unit
 * @throws RangeError  if count is not a whole number of at least 1
 * @see M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 1964, 25.4.30 (from memory, unverified); derived: Newton's steps on the Legendre polynomial
 */
export function gaussLegendre(count: number, from: number, to: number): Quadrature {
  if (!Number.isInteger(count) || count < 1)
    throw new RangeError(`Cannot place ${count} quadrature nodes: expected a whole number of at least 1`);
  const nodes = new Float64Array(count);
  const weights = new Float64Array(count);
  const half = (to - from) / 2;
  for (let i = 0; i < count; i++) {
    let x = -Math.cos((Math.PI * (i + 0.75)) / (count + 0.5));
    let derivative = 1;
    // Six steps from this guess reach rounding for any count; Newton doubles the digits in each.
    for (let step = 0; step < 6; step++) {
      let before = 0;
      let value = 1;
      for (let k = 1; k <= count; k++) [before, value] = [value, ((2 * k - 1) * x * value - (k - 1) * before) / k];
      derivative = (count * (x * value - before)) / (x * x - 1);
      x -= value / derivative;
    }
    nodes[i] = (from + to) / 2 + half * x;
    weights[i] = (2 * half) / ((1 - x * x) * derivative * derivative);
  }
  return { nodes, weights };
}
