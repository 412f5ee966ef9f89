/**
 * A source's day as it is: its block, what of it stands in the journal, and what contradicting lines leave of it.
 * Where a cell has one value only, block and journal agree on it; where lines contradict or replace, all that was
 * claimed stands in the claims, and they alone decide. So it does not matter in which order the two are laid over
 * each other, nor whether a reading stands in both.
 */
import { COLUMNS, columnOf, type SourceKind } from '../vocabulary/quantities.ts';
import { resolveClaims } from '../vocabulary/resolve-claims.ts';
import type { Claim } from './claim.ts';
import type { StoredDay } from './day-block-codec.ts';
import type { UnsealedDay } from './journal-tail.ts';
import { type MergedTimes, mergeTimes } from './merge-times.ts';
import { define, inOneOrder } from './sorted-json.ts';

export interface Layers {
  readonly kind: SourceKind;
  /** The block, or null; the columns asked for suffice. */
  readonly block: StoredDay | null;
  readonly unsealed: UnsealedDay;
  /** The claims of the source and day. */
  readonly claims: readonly Claim[];
  /** Column indexes; absent: all. */
  readonly columns?: ReadonlySet<number> | undefined;
  readonly extras?: boolean | undefined;
}

/** A day's columns while they are laid over each other. */
interface LaidDay {
  readonly tMs: Float64Array;
  readonly columns: (Float64Array | undefined)[];
  readonly extras: Map<number, Record<string, unknown>>;
}

export function overlayDay(layers: Layers): StoredDay {
  const { block, unsealed } = layers;
  const merged = mergeTimes(block?.tMs ?? new Float64Array(0), unsealed.tMs);
  const columns = COLUMNS[layers.kind].map((_, index) => spread(block?.columns[index], merged));
  const extras = new Map([...(block?.extras ?? [])].map(([row, values]) => [merged.placeOfOld[row]!, { ...values }]));
  const day: LaidDay = { tMs: merged.tMs, columns, extras };
  layUnsealed(day, layers, merged);
  decide(day, layers);
  // As a block has it when it is decoded: a column that says nothing all day is not there.
  const said: (Float64Array | undefined)[] = [];
  day.columns.forEach((values, index) => {
    if (values !== undefined) said[index] = values;
  });
  return {
    tMs: day.tMs,
    columns: said,
    extras: new Map([...extras].sort((a, b) => a[0] - b[0]).map(([place, values]) => [place, inOneOrder(values)])),
  };
}

function spread(old: Float64Array | undefined, { tMs, placeOfOld }: MergedTimes): Float64Array | undefined {
  if (old === undefined) return undefined;
  const values = new Float64Array(tMs.length).fill(Number.NaN);
  // Most often all that is unsealed is newer than the block.
  if ((placeOfOld[old.length - 1] ?? 0) === old.length - 1) values.set(old);
  else for (let row = 0; row < old.length; row++) values[placeOfOld[row]!] = old[row]!;
  return values;
}

function layUnsealed(day: LaidDay, { unsealed, columns: asked, extras }: Layers, { placeOfRow }: MergedTimes): void {
  const { tMs, columns } = day;
  let place = 0;
  const lay = (index: number, value: number): void => {
    let column = columns[index];
    if (column === undefined) {
      if (asked !== undefined && !asked.has(index)) return;
      column = new Float64Array(tMs.length).fill(Number.NaN);
      columns[index] = column;
    }
    if (Number.isNaN(column[place])) column[place] = value;
  };
  for (let row = 0; row < unsealed.tMs.length; row++) {
    place = placeOfRow[row]!;
    const came = unsealed.eachValue(row, lay);
    if (came === null || extras === false) continue;
    const values = day.extras.get(place) ?? {};
    day.extras.set(place, values);
    for (const [key, value] of Object.entries(came)) if (!Object.hasOwn(values, key)) define(values, key, value);
  }
}

/** Puts what the claims of each contested cell leave of it. */
function decide(day: LaidDay, { kind, claims, columns: asked, extras }: Layers): void {
  const cells = new Map<string, Claim[]>();
  for (const claim of claims) {
    const name = `${claim.t} ${claim.quantity}`;
    const cell = cells.get(name);
    if (cell === undefined) cells.set(name, [claim]);
    else cell.push(claim);
  }
  const touched = new Set<number>();
  for (const cell of cells.values()) {
    const { t, quantity } = cell[0]!;
    const place = placeOf(day.tMs, t);
    const index = columnOf(kind, quantity)?.index;
    if (place < 0 || (index === undefined ? extras === false : asked !== undefined && !asked.has(index))) continue;
    const holds = resolveClaims(cell);
    if (index === undefined) decideExtra(day, place, quantity, holds);
    else {
      day.columns[index] ??= new Float64Array(day.tMs.length).fill(Number.NaN);
      day.columns[index][place] = holds === null ? Number.NaN : Number(holds);
      touched.add(index);
    }
  }
  for (const index of touched) if (day.columns[index]!.every(Number.isNaN)) day.columns[index] = undefined;
}

function decideExtra({ extras }: LaidDay, place: number, key: string, holds: string | null): void {
  const values = extras.get(place) ?? {};
  if (holds === null) delete values[key];
  else define(values, key, JSON.parse(holds));
  if (Object.keys(values).length === 0) extras.delete(place);
  else extras.set(place, values);
}

/** The place of a time in rising times, or −1. */
function placeOf(tMs: Float64Array, t: number): number {
  let [low, high] = [0, tMs.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (tMs[middle]! < t) low = middle + 1;
    else high = middle;
  }
  return tMs[low] === t ? low : -1;
}
