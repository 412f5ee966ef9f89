/** Readings of one source and UTC day, gathered in the order in which they came, until they are merged into their block. */

/** Stands for "absent" in the 32-bit columns; a value that low is kept in a column of doubles. */
const ABSENT = -(2 ** 31);
const INT_MAX = 2 ** 31 - 1;
const FIRST_CAPACITY = 32;

export interface DayGather {
  readonly count: number;
  /** Whether the times came strictly rising. */
  readonly isRising: boolean;
  /** About how much memory it holds. */
  readonly bytes: number;
  readonly extras: ReadonlyMap<number, Readonly<Record<string, unknown>>>;
  /** Revision by row, of rows that are marked as replacing. */
  readonly replacing: ReadonlyMap<number, number>;
  /** @returns the row */
  addRow(t: number): number;
  setValue(row: number, column: number, value: number): void;
  addExtras(row: number, values: Readonly<Record<string, unknown>>): void;
  markReplacing(row: number, revision: number): void;
  times(): Float64Array;
  /** The values of a column as doubles, NaN where absent; undefined where no row has it. */
  column(index: number): Float64Array | undefined;
  readonly columnCount: number;
}

export function createDayGather(): DayGather {
  let count = 0;
  let isRising = true;
  let tMs = new Float64Array(FIRST_CAPACITY);
  const columns: (Int32Array | Float64Array | undefined)[] = [];
  const extras = new Map<number, Readonly<Record<string, unknown>>>();
  const replacing = new Map<number, number>();
  let held = 0;

  const grow = (): void => {
    const capacity = tMs.length * 2;
    const longer = new Float64Array(capacity);
    longer.set(tMs);
    tMs = longer;
    columns.forEach((column, index) => {
      if (column === undefined) return;
      columns[index] =
        column instanceof Int32Array
          ? moved(column, new Int32Array(capacity).fill(ABSENT))
          : moved(column, new Float64Array(capacity).fill(Number.NaN));
    });
  };
  const newColumn = (index: number): Int32Array => {
    const column = new Int32Array(tMs.length).fill(ABSENT);
    columns[index] = column;
    held++;
    return column;
  };
  const widen = (index: number, column: Int32Array): Float64Array => {
    const wide = Float64Array.from(column, (value) => (value === ABSENT ? Number.NaN : value));
    columns[index] = wide;
    return wide;
  };

  return {
    get count() {
      return count;
    },
    get isRising() {
      return isRising;
    },
    get bytes() {
      return tMs.length * (8 + 4 * held);
    },
    extras,
    replacing,
    addRow(t) {
      if (count === tMs.length) grow();
      if (count > 0 && t <= tMs[count - 1]!) isRising = false;
      tMs[count] = t;
      return count++;
    },
    setValue(row, index, value) {
      let column = columns[index] ?? newColumn(index);
      if ((value <= ABSENT || value > INT_MAX) && column instanceof Int32Array) column = widen(index, column);
      column[row] = value;
    },
    addExtras(row, values) {
      extras.set(row, values);
    },
    markReplacing(row, revision) {
      replacing.set(row, revision);
    },
    times: () => tMs.slice(0, count),
    column(index) {
      const column = columns[index];
      if (column === undefined) return undefined;
      if (column instanceof Float64Array) return column.slice(0, count);
      const values = new Float64Array(count);
      for (let i = 0; i < count; i++) {
        const value = column[i]!;
        values[i] = value === ABSENT ? Number.NaN : value;
      }
      return values;
    },
    get columnCount() {
      return columns.length;
    },
  };
}

function moved<A extends Int32Array | Float64Array>(from: A, to: A): A {
  to.set(from);
  return to;
}
