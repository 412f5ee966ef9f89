/**
 * Refuses a sample that is too short or holds a missing number: the door of the functions of this folder.
 *
 * @param values   the sample, any unit
 * @param atLeast  the smallest count that is taken
 * @param doing    the action, for the message: 'take a median'
 * @throws RangeError  if the sample is shorter, or a value is NaN or infinite
 * @see derived: a comparison with NaN is false, so a NaN that enters a figure can leave as a healthy verdict
 */
export function requireFinite(values: ArrayLike<number>, atLeast: number, doing: string): void {
  if (values.length < atLeast) {
    throw new RangeError(`Cannot ${doing}: needs at least ${atLeast} values, got ${values.length}`);
  }
  for (let i = 0; i < values.length; i++) {
    if (!Number.isFinite(values[i])) {
      throw new RangeError(`Cannot ${doing}: value ${values[i]} at index ${i} is not a finite number`);
    }
  }
}

/**
 * The same for two columns that belong together, row by row.
 *
 * @param x        first column, any unit
 * @param y        second column, any unit
 * @param atLeast  the smallest number of rows that is taken
 * @param doing    the action, for the message
 * @throws RangeError  if the lengths differ, there are too few rows, or a value is NaN or infinite
 * @see derived: see requireFinite
 */
export function requireFinitePairs(x: ArrayLike<number>, y: ArrayLike<number>, atLeast: number, doing: string): void {
  if (x.length !== y.length) throw new RangeError(`Cannot ${doing}: ${x.length} x values but ${y.length} y values`);
  requireFinite(x, atLeast, doing);
  requireFinite(y, atLeast, doing);
}
