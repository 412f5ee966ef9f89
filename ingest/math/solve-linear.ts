/**
 * Solves A·x = b by elimination with partial pivoting.
 *
 * @param matrix  A, n × n, row by row in one array; not written to
 * @param right   b, length n; not written to
 * @returns x, length n; null where A is singular to working precision
 * @throws RangeError  if the sizes do not match
 * @see derived: Gaussian elimination, as in any textbook on linear algebra
 */
export function solveLinear(matrix: Float64Array, right: Float64Array): Float64Array | null {
  const n = right.length;
  if (matrix.length !== n * n)
    throw new RangeError(`Cannot solve ${n} equations: matrix has ${matrix.length} elements, expected ${n * n}`);
  const a = Float64Array.from(matrix);
  const x = Float64Array.from(right);
  for (let k = 0; k < n; k++) {
    let pivot = k;
    for (let row = k + 1; row < n; row++) if (Math.abs(a[row * n + k]!) > Math.abs(a[pivot * n + k]!)) pivot = row;
    if (!(Math.abs(a[pivot * n + k]!) > 0)) return null;
    if (pivot !== k) {
      for (let column = k; column < n; column++) swap(a, k * n + column, pivot * n + column);
      swap(x, k, pivot);
    }
    for (let row = k + 1; row < n; row++) {
      const factor = a[row * n + k]! / a[k * n + k]!;
      if (factor === 0) continue;
      for (let column = k + 1; column < n; column++) a[row * n + column]! -= factor * a[k * n + column]!;
      x[row]! -= factor * x[k]!;
    }
  }
  for (let row = n - 1; row >= 0; row--) {
    for (let column = row + 1; column < n; column++) x[row]! -= a[row * n + column]! * x[column]!;
    x[row]! /= a[row * n + row]!;
  }
  return x;
}

function swap(values: Float64Array, i: number, j: number): void {
  const kept = values[i]!;
  values[i] = values[j]!;
  values[j] = kept;
}
