export interface BlockMeans {
  /** Start of each block, a multiple of the width, ascending; blocks without a value are absent. */
  readonly tMs: Float64Array;
  readonly mean: Float64Array;
  /** Values in each block. */
  readonly count: Float64Array;
}

/**
 * Means over even blocks of time, aligned to multiples of their width.
 *
 * @param tMs      times, epoch ms, ascending
 * @param values   one a time, any unit; NaN marks a gap and is skipped
 * @param widthMs  width of a block, ms, whole, above 0
 * @returns the blocks that hold at least one value
 * @throws RangeError  if the lengths differ, the times fall back, or the width is not a whole number above 0
 * @see derived: by definition
 */
export function blockMeans(tMs: ArrayLike<number>, values: ArrayLike<number>, widthMs: number): BlockMeans {
  if (tMs.length !== values.length)
    throw new RangeError(`Cannot take block means: ${tMs.length} times but ${values.length} values`);
  if (!Number.isInteger(widthMs) || widthMs < 1)
    throw new RangeError(`Cannot take block means: width ${widthMs} ms is not a whole number above 0`);
  const starts: number[] = [];
  const sums: number[] = [];
  const counts: number[] = [];
  for (let i = 0; i < tMs.length; i++) {
    if (i > 0 && !(tMs[i]! >= tMs[i - 1]!))
      throw new RangeError(`Cannot take block means: time ${tMs[i]} at index ${i} lies before the one before it`);
    if (Number.isNaN(values[i])) continue;
    const start = Math.floor(tMs[i]! / widthMs) * widthMs;
    if (starts.at(-1) !== start) {
      starts.push(start);
      sums.push(0);
      counts.push(0);
    }
    sums[sums.length - 1]! += values[i]!;
    counts[counts.length - 1]! += 1;
  }
  return {
    tMs: Float64Array.from(starts),
    mean: Float64Array.from(sums, (total, i) => total / counts[i]!),
    count: Float64Array.from(counts),
  };
}
