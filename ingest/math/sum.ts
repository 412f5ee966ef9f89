/**
 * Sum with a running correction of the rounding error.
 *
 * A NaN or an infinity in the sample comes back as NaN or infinity: callers refuse them first.
 *
 * @param values  the sample, any unit; may be empty
 * @returns the sum in the same unit; 0 for an empty sample
 * @see A. Neumaier, "Rundungsfehleranalyse einiger Verfahren zur Summation endlicher Summen", ZAMM 54, 1974, p. 39 (from memory, unverified)
 */
export function sum(values: ArrayLike<number>): number {
  let total = 0;
  let correction = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    const next = total + value;
    correction += Math.abs(total) >= Math.abs(value) ? total - next + value : value - next + total;
    total = next;
  }
  return total + correction;
}
