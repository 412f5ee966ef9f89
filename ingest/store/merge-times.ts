/** Times that are stored and times that came, as one rising list. */

/**
 * The rows in order of time, equal times in order of row. Most lines come in order, so only those that come late are
 * sorted, and then merged with the others.
 */
function risingOrder(times: Float64Array): Uint32Array {
  const order = new Uint32Array(times.length);
  const late: number[] = [];
  let newest = Number.NEGATIVE_INFINITY;
  let rising = 0;
  for (let row = 0; row < times.length; row++) {
    const t = times[row]!;
    if (t > newest) {
      newest = t;
      order[rising++] = row;
    } else late.push(row);
  }
  late.sort((a, b) => times[a]! - times[b]! || a - b);
  // From the end, so that no row is overwritten before it is moved.
  for (let place = times.length - 1; late.length > 0; place--) {
    const isRisingNext = rising > 0 && times[order[rising - 1]!]! > times[late.at(-1)!]!;
    order[place] = isRisingNext ? order[--rising]! : late.pop()!;
  }
  return order;
}

export interface MergedTimes {
  /** Strictly rising. */
  readonly tMs: Float64Array;
  readonly placeOfOld: Uint32Array;
  readonly placeOfRow: Uint32Array;
  /** By row, 1 at the first row of a time that is not among the old ones. */
  readonly isNewTime: Uint8Array;
}

/**
 * The union of two lists of times, and where each old and each new row stands in it.
 *
 * @param old   strictly rising
 * @param times in any order, times may occur more than once
 */
export function mergeTimes(old: Float64Array, times: Float64Array): MergedTimes {
  const order = risingOrder(times);
  const union = new Float64Array(old.length + times.length);
  const placeOfOld = new Uint32Array(old.length);
  const placeOfRow = new Uint32Array(times.length);
  const isNewTime = new Uint8Array(times.length);
  let length = 0;
  let i = 0;
  let j = 0;
  while (i < old.length || j < order.length) {
    const row = order[j] ?? -1;
    const tNew = row < 0 ? Number.POSITIVE_INFINITY : times[row]!;
    const tOld = i < old.length ? old[i]! : Number.POSITIVE_INFINITY;
    const t = Math.min(tOld, tNew);
    if (tOld === t) placeOfOld[i++] = length;
    else isNewTime[row] = 1;
    while (j < order.length && times[order[j]!] === t) placeOfRow[order[j++]!] = length;
    union[length++] = t;
  }
  return { tMs: union.slice(0, length), placeOfOld, placeOfRow, isNewTime };
}
