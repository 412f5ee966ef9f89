/** Readings as numbers, where nobody needs them as text: the same values, rounded the same, in a fraction of the time. */
import { toStored } from '../vocabulary/quantities.ts';
import type { ReadingBatch, SourceKey } from '../vocabulary/reading.ts';
import type { LineLayout } from './log-lines.ts';

export interface RowSink {
  rows: Float64Array;
  length: number;
  readings: number;
}

/** Place, time and count, and a pair for each value. */
const HEAD = 3;

export function createRowSink(capacity = 1 << 18): RowSink {
  return { rows: new Float64Array(capacity), length: 0, readings: 0 };
}

/** One reading, in the form of `ReadingBatch.rows`. @param place of its source among the batch's */
export function appendRow(sink: RowSink, place: number, layout: LineLayout, tMs: number, values: Float64Array): void {
  const most = HEAD + 2 * layout.places.length;
  if (sink.length + most > sink.rows.length) {
    const larger = new Float64Array(2 * sink.rows.length + most);
    larger.set(sink.rows.subarray(0, sink.length));
    sink.rows = larger;
  }
  const { rows } = sink;
  let at = sink.length;
  rows[at] = place;
  rows[at + 1] = tMs;
  const head = at;
  at += HEAD;
  for (let i = 0; i < layout.places.length; i++) {
    const column = layout.places[i]!;
    const value = values[column]!;
    if (Number.isNaN(value)) continue;
    rows[at] = column;
    rows[at + 1] = toStored(layout.decimals[i]!, value);
    at += 2;
  }
  rows[head + 2] = (at - head - HEAD) / 2;
  sink.length = at;
  sink.readings += 1;
}

/** The rows as a batch; the sink is empty then, and its rows hold until it is written to again. */
export function takeBatch(sink: RowSink, sources: readonly SourceKey[]): ReadingBatch {
  const batch: ReadingBatch = {
    sources,
    rows: sink.rows,
    rowsLength: sink.length,
    readings: sink.readings,
    extras: [],
    replacing: [],
    settings: [],
    alarms: [],
    refused: [],
    lines: sink.readings,
  };
  sink.length = 0;
  sink.readings = 0;
  return batch;
}
