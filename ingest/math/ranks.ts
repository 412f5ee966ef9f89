import { requireFinite } from './require-finite.ts';

/**
 * Rank of each value, 1 for the smallest; equal values share the mean of their ranks.
 *
 * @param values  the sample, any unit; NaN is refused
 * @returns ranks, same length and order
 * @throws RangeError  if the sample is empty or holds NaN or an infinity
 * @see derived: by definition (midranks)
 */
export function ranks(values: ArrayLike<number>): Float64Array {
  requireFinite(values, 1, 'rank values');
  const order = Uint32Array.from(values, (_, i) => i).sort((a, b) => values[a]! - values[b]!);
  const rank = new Float64Array(values.length);
  for (let from = 0, to = 0; from < order.length; from = to) {
    while (to < order.length && values[order[to]!] === values[order[from]!]) to++;
    for (let place = from; place < to; place++) rank[order[place]!] = (from + 1 + to) / 2;
  }
  return rank;
}
