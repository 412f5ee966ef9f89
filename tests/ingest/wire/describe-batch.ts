import { COLUMNS, fromStored } from '../../../ingest/vocabulary/quantities.ts';
import type { ReadingBatch, RefusedLine } from '../../../ingest/vocabulary/reading.ts';
import { formatTime } from '../../../ingest/vocabulary/time.ts';

export interface DescribedReading {
  readonly source: string;
  readonly t: string;
  readonly values: Readonly<Record<string, number | string>>;
  readonly extras?: unknown;
  readonly replaces?: number;
}

export interface DescribedBatch {
  readonly readings: readonly DescribedReading[];
  readonly settings: readonly unknown[];
  readonly alarms: readonly unknown[];
  readonly refused: readonly RefusedLine[];
  readonly lines: number;
}

/** A batch as plain objects: sources as site/kind/id, times as text, values in their own units, states as words. */
export function describeBatch(batch: ReadingBatch): DescribedBatch {
  const { rows, rowsLength, sources } = batch;
  const nameOf = (place: number): string => {
    const { site, kind, id } = sources[place]!;
    return `${site}/${kind}/${id}`;
  };
  const extras = new Map(batch.extras.map((each) => [each.reading, each.values]));
  const replacing = new Map(batch.replacing.map((each) => [each.reading, each.revision]));
  const readings: DescribedReading[] = [];
  for (let at = 0; at < rowsLength; ) {
    const [place, t, count] = [rows[at]!, rows[at + 1]!, rows[at + 2]!];
    const values: Record<string, number | string> = {};
    for (let k = 0; k < count; k += 1) {
      const { id, decimals, words } = COLUMNS[sources[place]!.kind][rows[at + 3 + 2 * k]!]!;
      const stored = rows[at + 4 + 2 * k]!;
      if (id in values) throw new Error(`${id} stands twice in one reading`);
      if (!Number.isSafeInteger(stored) || Object.is(stored, -0)) throw new Error(`${id} is stored as ${stored}`);
      values[id] = words === null ? fromStored(decimals, stored) : words[stored]!;
    }
    const n = readings.length;
    readings.push({
      source: nameOf(place),
      t: formatTime(t),
      values,
      ...(extras.has(n) ? { extras: extras.get(n) } : {}),
      ...(replacing.has(n) ? { replaces: replacing.get(n)! } : {}),
    });
    at += 3 + 2 * count;
  }
  if (readings.length !== batch.readings)
    throw new Error(`${readings.length} readings, but the batch says ${batch.readings}`);
  const dated = <Entry extends { source: number; t: number }>({ source, t, ...rest }: Entry): unknown => ({
    source: nameOf(source),
    t: formatTime(t),
    ...rest,
  });
  return {
    readings,
    settings: batch.settings.map(dated),
    alarms: batch.alarms.map(dated),
    refused: batch.refused,
    lines: batch.lines,
  };
}

/** Several batches of one file as one. Places of readings on settings and alarms are counted through. */
export function describeBatches(batches: readonly ReadingBatch[]): DescribedBatch {
  let before = 0;
  const all = batches.map((batch) => {
    const described = describeBatch(batch);
    const shift = (entry: unknown): unknown => {
      const { reading, ...rest } = entry as { reading: number | null };
      return { ...rest, reading: reading === null ? null : reading + before };
    };
    const shifted = { ...described, settings: described.settings.map(shift), alarms: described.alarms.map(shift) };
    before += batch.readings;
    return shifted;
  });
  return {
    readings: all.flatMap(({ readings }) => readings),
    settings: all.flatMap(({ settings }) => settings),
    alarms: all.flatMap(({ alarms }) => alarms),
    refused: all.flatMap(({ refused }) => refused),
    lines: all.reduce((sum, { lines }) => sum + lines, 0),
  };
}

export function bytesOf(text: string): Uint8Array {
  return new TextEncoder().encode(text);
}
