/**
 * log Σ exp(v), without overflow or underflow.
 *
 * @param values  logarithms (natural); at least one; −Infinity (an impossible case) is allowed; NaN is refused
 * @returns the logarithm of the sum; −Infinity where every value is
 * @throws RangeError  if there is no value, or one is NaN or +Infinity
 * @see derived: max + log Σ exp(v − max)
 */
export function logSumExp(values: ArrayLike<number>): number {
  if (values.length === 0) throw new RangeError('Cannot add in logarithms: needs at least 1 value, got 0');
  let largest = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (!(value < Number.POSITIVE_INFINITY))
      throw new RangeError(`Cannot add in logarithms: value ${value} at index ${i}`);
    if (value > largest) largest = value;
  }
  if (largest === Number.NEGATIVE_INFINITY) return largest;
  let total = 0;
  for (let i = 0; i < values.length; i++) total += Math.exp(values[i]! - largest);
  return largest + Math.log(total);
}
