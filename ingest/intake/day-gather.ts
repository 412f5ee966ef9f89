/** Readings of one source and UTC day, gathered in the order in which they came, until they are merged into their block. */

/** Stands for "absent" in the 32-bit columns; a value that low is kept in a column of doubles. */
const ABSENT = -(2 ** 31);
const INT_MAX = 2 ** 31 - 1;
const FIRST_CAPACITY = 32;
/** From it a day at 10 s comes to 9,368 places for its 8,640 readings; doubling would hold 16,384. */
const GROWTH = 1.5;

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
  return new GatheredDay();
}

/** A class, and integers apart from doubles, because every value that comes passes here. */
class GatheredDay implements DayGather {
  readonly extras = new Map<number, Readonly<Record<string, unknown>>>();
  readonly replacing = new Map<number, number>();
  count = 0;
  isRising = true;
  #tMs = new Float64Array(FIRST_CAPACITY);
  /** A column is in one of the two. */
  readonly #integers: (Int32Array | undefined)[] = [];
  readonly #doubles: (Float64Array | undefined)[] = [];

  get columnCount(): number {
    return Math.max(this.#integers.length, this.#doubles.length);
  }

  get bytes(): number {
    const held = (columns: readonly unknown[]): number => columns.filter((column) => column !== undefined).length;
    return this.#tMs.length * (8 + 4 * held(this.#integers) + 8 * held(this.#doubles));
  }

  addRow(t: number): number {
    if (this.count === this.#tMs.length) this.#grow();
    if (this.count > 0 && t <= this.#tMs[this.count - 1]!) this.isRising = false;
    this.#tMs[this.count] = t;
    return this.count++;
  }

  setValue(row: number, index: number, value: number): void {
    const column = this.#integers[index];
    if (column !== undefined && value > ABSENT && value <= INT_MAX) column[row] = value;
    else this.#setFirstOrLarge(row, index, value);
  }

  #setFirstOrLarge(row: number, index: number, value: number): void {
    let doubles = this.#doubles[index];
    if (doubles === undefined && value > ABSENT && value <= INT_MAX) {
      const integers = new Int32Array(this.#tMs.length).fill(ABSENT);
      integers[row] = value;
      this.#integers[index] = integers;
      return;
    }
    if (doubles === undefined) {
      const integers = this.#integers[index];
      doubles = integers === undefined ? absentDoubles(this.#tMs.length) : Float64Array.from(integers, asDouble);
      this.#integers[index] = undefined;
      this.#doubles[index] = doubles;
    }
    doubles[row] = value;
  }

  addExtras(row: number, values: Readonly<Record<string, unknown>>): void {
    this.extras.set(row, values);
  }

  markReplacing(row: number, revision: number): void {
    this.replacing.set(row, revision);
  }

  times(): Float64Array {
    return this.#tMs.slice(0, this.count);
  }

  column(index: number): Float64Array | undefined {
    const integers = this.#integers[index];
    if (integers === undefined) return this.#doubles[index]?.slice(0, this.count);
    const values = new Float64Array(this.count);
    for (let row = 0; row < values.length; row++) values[row] = asDouble(integers[row]!);
    return values;
  }

  #grow(): void {
    const capacity = Math.ceil(this.#tMs.length * GROWTH);
    this.#tMs = moved(this.#tMs, new Float64Array(capacity));
    for (const [index, column] of this.#integers.entries()) {
      if (column !== undefined) this.#integers[index] = moved(column, new Int32Array(capacity).fill(ABSENT));
    }
    for (const [index, column] of this.#doubles.entries()) {
      if (column !== undefined) this.#doubles[index] = moved(column, absentDoubles(capacity));
    }
  }
}

function absentDoubles(length: number): Float64Array<ArrayBuffer> {
  return new Float64Array(length).fill(Number.NaN);
}

function asDouble(integer: number): number {
  return integer === ABSENT ? Number.NaN : integer;
}

function moved<A extends Int32Array | Float64Array>(from: A, to: A): A {
  to.set(from);
  return to;
}
