/** Neighbouring values beyond a limit: places from…to, half-open. */
export interface Run {
  readonly from: number;
  readonly to: number;
}

/**
 * The unbroken runs of values below a lower or above an upper limit.
 *
 * NaN marks a gap: it is beyond no limit, and it ends a run.
 *
 * @param values  in order of time, any unit; NaN is skipped
 * @param limits  `below`, `above` or both, same unit; a value on a limit is not beyond it
 * @returns the runs in order; a run may pass from below to above only where the two touch
 * @throws RangeError  if no limit is given, or one is NaN
 * @see derived: by definition
 */
export function runsBeyond(
  values: ArrayLike<number>,
  limits: { readonly below?: number; readonly above?: number },
): Run[] {
  const { below = Number.NEGATIVE_INFINITY, above = Number.POSITIVE_INFINITY } = limits;
  if (limits.below === undefined && limits.above === undefined)
    throw new RangeError('Cannot find runs: no limit given');
  if (Number.isNaN(below) || Number.isNaN(above))
    throw new RangeError(`Cannot find runs: limit ${below} or ${above} is not a number`);
  const runs: Run[] = [];
  let from = -1;
  for (let i = 0; i <= values.length; i++) {
    const isBeyond = i < values.length && (values[i]! < below || values[i]! > above);
    if (isBeyond && from < 0) from = i;
    if (!isBeyond && from >= 0) {
      runs.push({ from, to: i });
      from = -1;
    }
  }
  return runs;
}
