/** Three questions that screens and analyses ask, put to the store and to DuckDB in turns. */
import type { StoredSource } from '../../ingest/store/reading-store.ts';
import { columnOf } from '../../ingest/vocabulary/quantities.ts';
import { DAY_MS } from '../../ingest/vocabulary/time.ts';
import { FIRST_DAY_MS } from './bench-data.ts';
import { type BenchFigure, figure, median } from './bench-figure.ts';
import { type DuckStatement, fetchColumns } from './duck-peer.ts';
import { keptColumns } from './duck-tables.ts';
import type { StoredFleet } from './stored-fleet.ts';

const WARM_UP = 5;
const RUNS = 25;
const DAYS = 7;
const BUCKETS = 300;
const TO_MS = FIRST_DAY_MS + DAYS * DAY_MS;
const QUANTITY = 'output_power_w';
const COLUMN = columnOf('unit', QUANTITY)!.index;
const ASKED = { columns: new Set([COLUMN]), extras: false } as const;

/** A question in both forms; each answers with figures that must agree. */
interface Question {
  readonly what: string;
  /** How many times as fast as DuckDB the store must be; null for information. */
  readonly least: number | null;
  readonly ownMs: () => number;
  readonly duck: () => Promise<number>;
}

export async function readsPart(fleet: StoredFleet): Promise<BenchFigure[]> {
  const questions = [await dayRaw(fleet), await weekInBuckets(fleet), ...(await fleetShares(fleet))];
  const figures: BenchFigure[] = [];
  for (const threads of ['default threads', 'threads = 1']) {
    await fleet.duck.run(threads === 'threads = 1' ? 'SET threads = 1' : 'RESET threads');
    for (const question of questions) figures.push(await measure(question, `${fleet.duckName}, ${threads}`));
  }
  return figures;
}

/** In turns, so that whatever else the machine does befalls both. */
async function measure({ what, least, ownMs, duck }: Question, name: string): Promise<BenchFigure> {
  const own: number[] = [];
  const other: number[] = [];
  for (let run = 0; run < WARM_UP + RUNS; run++) {
    const started = performance.now();
    const answer = ownMs();
    const between = performance.now();
    const same = await duck();
    const ended = performance.now();
    if (Math.abs(answer - same) > 1e-6 * Math.max(1, Math.abs(same))) {
      throw new Error(`${what}: the store answers ${answer}, ${name} ${same}`);
    }
    if (run < WARM_UP) continue;
    own.push(between - started);
    other.push(ended - between);
  }
  return figure('reads', what, median(own), 'ms', {
    against: { name, value: median(other) },
    asked: least === null ? null : { of: 'ratio', is: 'most', limit: 1 / least },
    note: `median of ${RUNS}`,
  });
}

function firstUnit({ store }: StoredFleet): StoredSource {
  return store.sources().find(({ kind }) => kind === 'unit')!;
}

async function dayRaw(fleet: StoredFleet): Promise<Question> {
  const { store, duck } = fleet;
  const { source } = firstUnit(fleet);
  const day = FIRST_DAY_MS + DAY_MS;
  const has = new Set(store.summaries(source, day, day).flatMap(({ columns }) => columns.map(({ column }) => column)));
  const columns = keptColumns(store, 'unit').filter(({ column }) => has.has(column.index));
  const ids = columns.map(({ column }) => column.id);
  const place = ids.indexOf(QUANTITY) + 1;
  const statement = await duck.prepare(
    `SELECT t, ${ids.join(', ')} FROM unit_readings WHERE source = $1 AND t >= $2 AND t < $3 ORDER BY t`,
  );
  bindSpan(statement, source, day, day + DAY_MS);
  return {
    what: `(b) a day raw: one unit, ${ids.length} columns`,
    least: 1,
    ownMs() {
      let last = 0;
      for (const { tMs, columns: values } of store.readBlocks(source, day, day, { extras: false })) {
        last = tMs[tMs.length - 1]! + values[COLUMN]![tMs.length - 1]! + tMs.length;
      }
      return last;
    },
    async duck() {
      const read = await fetchColumns(statement);
      const end = read[0]!.length - 1;
      return Number(read[0]![end]!) + Number(read[place]![end]!) + end + 1;
    },
  };
}

function bindSpan(statement: DuckStatement, source: number, from: number, to: number): void {
  statement.bindInteger(1, source);
  statement.bindBigInt(2, BigInt(from));
  statement.bindBigInt(3, BigInt(to));
}

async function weekInBuckets(fleet: StoredFleet): Promise<Question> {
  const { duck } = fleet;
  const { source } = firstUnit(fleet);
  const everyMs = (DAYS * DAY_MS) / BUCKETS;
  const statement = await duck.prepare(
    `SELECT CAST((t - $2) // ${everyMs} AS INTEGER) AS bucket, min(${QUANTITY}), max(${QUANTITY}), avg(${QUANTITY})
     FROM unit_readings WHERE source = $1 AND t >= $2 AND t < $3 AND ${QUANTITY} IS NOT NULL GROUP BY bucket ORDER BY bucket`,
  );
  bindSpan(statement, source, FIRST_DAY_MS, TO_MS);
  return {
    what: `(c) ${DAYS} days of one quantity of one unit → ${BUCKETS} buckets min/mean/max`,
    least: 1,
    ownMs() {
      const { min, max, mean } = bucketed(fleet, source, everyMs);
      return sumOf(min) + sumOf(max) + sumOf(mean);
    },
    async duck() {
      const [, min, max, mean] = (await fetchColumns(statement)) as Float64Array[];
      return sumOf(min!) + sumOf(max!) + sumOf(mean!);
    },
  };
}

function bucketed({ store }: StoredFleet, source: number, everyMs: number) {
  const min = new Float64Array(BUCKETS).fill(Number.POSITIVE_INFINITY);
  const max = new Float64Array(BUCKETS).fill(Number.NEGATIVE_INFINITY);
  const sum = new Float64Array(BUCKETS);
  const count = new Uint32Array(BUCKETS);
  for (const { tMs, columns } of store.readBlocks(source, FIRST_DAY_MS, TO_MS - DAY_MS, ASKED)) {
    const values = columns[COLUMN];
    if (values === undefined) continue;
    for (let i = 0; i < values.length; i++) {
      const value = values[i]!;
      if (Number.isNaN(value)) continue;
      const bucket = Math.floor((tMs[i]! - FIRST_DAY_MS) / everyMs);
      if (value < min[bucket]!) min[bucket] = value;
      if (value > max[bucket]!) max[bucket] = value;
      sum[bucket]! += value;
      count[bucket]!++;
    }
  }
  const has = (_: number, bucket: number): boolean => count[bucket]! > 0;
  return { min: min.filter(has), max: max.filter(has), mean: sum.map((one, i) => one / count[i]!).filter(has) };
}

/**
 * As Kilter answers it: from the sums kept with each block, as charts do; DuckDB keeps none and reads the column. Once
 * more by decoding every value, as a question does for which nothing is kept: there the two are about equal.
 */
async function fleetShares({ store, duck }: StoredFleet): Promise<Question[]> {
  const statement = await duck.prepare(
    `SELECT day_sum / sum(day_sum) OVER (PARTITION BY site, day) AS share FROM (
       SELECT source, (t - $1) // ${DAY_MS} AS day, CAST(sum(${QUANTITY}) AS DOUBLE) AS day_sum
       FROM unit_readings WHERE t >= $1 AND t < $2 GROUP BY source, day
     ) JOIN sources USING (source)`,
  );
  statement.bindBigInt(1, BigInt(FIRST_DAY_MS));
  statement.bindBigInt(2, BigInt(TO_MS));
  const units = store.sources().filter(({ kind }) => kind === 'unit');
  const other = async (): Promise<number> => sumOfSquares((await fetchColumns(statement))[0] as Float64Array);
  const what = `(d) share of output power: each unit of the fleet, site and day, ${DAYS} days`;
  return [
    { what, least: 2, ownMs: () => sumOfSquares(shares(units, keptSums)), duck: other },
    {
      what: `${what}; for information, decoding every value`,
      least: null,
      ownMs: () => sumOfSquares(shares(units, decodedSums)),
      duck: other,
    },
  ];

  function decodedSums(source: number, add: (day: number, sum: number) => void): void {
    let day = 0;
    for (const { columns } of store.readBlocks(source, FIRST_DAY_MS, TO_MS - DAY_MS, ASKED)) {
      const values = columns[COLUMN] ?? new Float64Array(0);
      let sum = 0;
      for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i])) sum += values[i]!;
      add(day++, sum);
    }
  }

  function keptSums(source: number, add: (day: number, sum: number) => void): void {
    let day = 0;
    for (const { columns } of store.summaries(source, FIRST_DAY_MS, TO_MS - DAY_MS)) {
      add(day++, columns.find(({ column }) => column === COLUMN)?.sum ?? 0);
    }
  }
}

/** Every unit of the demo fleet has a block on every day, so its days can be counted as they come. */
function shares(
  units: readonly StoredSource[],
  sumsOf: (source: number, add: (day: number, sum: number) => void) => void,
): number[] {
  const sums: { readonly place: string; readonly sum: number }[] = [];
  const ofAll = new Map<string, number>();
  for (const { source, site } of units) {
    sumsOf(source, (day, sum) => {
      const place = `${site} ${day}`;
      sums.push({ place, sum });
      ofAll.set(place, (ofAll.get(place) ?? 0) + sum);
    });
  }
  return sums.map(({ place, sum }) => sum / ofAll.get(place)!);
}

function sumOf(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i]!;
  return sum;
}

function sumOfSquares(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i]! * values[i]!;
  return sum;
}
