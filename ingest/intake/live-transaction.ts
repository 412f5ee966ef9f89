/**
 * What came live, in one transaction: readings as one blob of the journal, what contradicts as claims, settings and
 * alarms as rows. What is new is told as the import tells it, with the same merge, so that the ground state does not
 * depend on the way by which a line came.
 */

import { type Journal, journalOf } from '../store/journal.ts';
import { JournalWriter } from '../store/journal-blob.ts';
import type { ReadingStore } from '../store/reading-store.ts';
import { sortedJson } from '../store/sorted-json.ts';
import { COLUMNS } from '../vocabulary/quantities.ts';
import type { ReadingBatch } from '../vocabulary/reading.ts';
import { DAY_MS } from '../vocabulary/time.ts';
import { type AsideLine, storeAlarm, storeSettings } from './asides.ts';
import { createDayGather } from './day-gather.ts';
import type { IntakeCounts } from './intake.ts';
import { mergeDay } from './merge-day.ts';

const HEAD = 3;

/** A batch on its way through the transaction. */
interface Coming {
  readonly batch: ReadingBatch;
  /** Number in the store of each of its sources. */
  readonly ids: readonly number[];
  /** By reading, 1 where it brought something new. */
  readonly isNews: Uint8Array;
  /** Extras and revisions by reading, where there are any. */
  readonly extras: ReadonlyMap<number, Readonly<Record<string, unknown>>>;
  readonly replacing: ReadonlyMap<number, number>;
}

/** One reading of a source and day that must be compared with what is stored. */
interface ComparedRow {
  readonly coming: Coming;
  readonly reading: number;
  /** Place of its row in the batch. */
  readonly at: number;
}

interface ComparedDay {
  readonly source: number;
  readonly day: number;
  readonly rows: ComparedRow[];
}

/** By source and day; the days of a source are few. */
type ComparedDays = Map<number, Map<number, ComparedDay>>;

/** One for all transactions of the process: they come one after the other, and its buffers are large. */
const writer = new JournalWriter();
const NONE: ReadonlyMap<number, never> = new Map<number, never>();

/** Stores batches together, all or nothing. @returns the counts of each, in order */
export function storeLive(store: ReadingStore, batches: readonly ReadingBatch[]): IntakeCounts[] {
  const journal = journalOf(store.db);
  writer.clear();
  let change: number | null = null;
  let blob: Uint8Array | null = null;
  const counts = store.transaction(() => {
    journal.follow();
    const comings = batches.map((batch) => comingOf(store, batch));
    const compared = findCompared(journal, comings);
    for (const coming of comings) writeNewest(coming, compared);
    for (const days of compared.values()) for (const day of days.values()) writeCompared(store, day);
    const nextChange = (): number => {
      change ??= store.nextChange();
      return change;
    };
    if (writer.count > 0) {
      const readings = writer.count;
      blob = writer.finish();
      journal.add(nextChange(), readings, blob);
    }
    return comings.map((coming) => countOf(store, coming, nextChange));
  });
  if (change !== null && blob !== null) journal.added(change, blob);
  return counts;
}

function comingOf(store: ReadingStore, batch: ReadingBatch): Coming {
  return {
    batch,
    ids: batch.sources.map((key) => store.sourceOf(key)),
    isNews: new Uint8Array(batch.readings),
    extras: batch.extras.length === 0 ? NONE : new Map(batch.extras.map(({ reading, values }) => [reading, values])),
    replacing:
      batch.replacing.length === 0
        ? NONE
        : new Map(batch.replacing.map(({ reading, revision }) => [reading, revision])),
  };
}

/**
 * A reading newer than all of its source is new, and most are. Days with others are compared with what is stored: all
 * their rows, in the order in which they came.
 */
function findCompared(journal: Journal, comings: readonly Coming[]): ComparedDays {
  const compared: ComparedDays = new Map();
  for (const { batch, ids, replacing } of comings) {
    const { rows, rowsLength } = batch;
    for (let at = 0, reading = 0; at < rowsLength; at += HEAD + 2 * rows[at + 2]!, reading++) {
      const source = ids[rows[at]!]!;
      const t = rows[at + 1]!;
      const isNewest = t > journal.newest(source);
      if (isNewest) journal.raiseNewest(source, t);
      if (isNewest && !(replacing.size > 0 && replacing.has(reading))) continue;
      const day = Math.floor(t / DAY_MS);
      const days = compared.get(source) ?? new Map<number, ComparedDay>();
      compared.set(source, days);
      if (!days.has(day)) days.set(day, { source, day, rows: [] });
    }
  }
  return compared;
}

/** Writes the rows that need no comparing, and hands the others to their days. */
function writeNewest(coming: Coming, compared: ComparedDays): void {
  const { batch, ids, isNews } = coming;
  const { rows, rowsLength } = batch;
  const comparesNothing = compared.size === 0;
  for (let at = 0, reading = 0; at < rowsLength; at += HEAD + 2 * rows[at + 2]!, reading++) {
    const source = ids[rows[at]!]!;
    const day = comparesNothing ? undefined : compared.get(source)?.get(Math.floor(rows[at + 1]! / DAY_MS));
    if (day !== undefined) {
      day.rows.push({ coming, reading, at });
      continue;
    }
    isNews[reading] = 1;
    writeRow(source, { coming, reading, at });
  }
}

function writeRow(source: number, { coming, reading, at }: ComparedRow): void {
  const extras = coming.extras.size === 0 ? undefined : coming.extras.get(reading);
  writer.add(
    source,
    coming.batch.rows,
    at,
    extras === undefined || Object.keys(extras).length === 0 ? null : sortedJson(extras),
  );
}

function writeCompared(store: ReadingStore, { source, day, rows }: ComparedDay): void {
  const dayMs = day * DAY_MS;
  const news = hasOnlyNewTimes(store.readTimes(source, dayMs), rows)
    ? new Uint8Array(rows.length).fill(1)
    : mergedNews(store, source, dayMs, rows);
  for (const [n, row] of rows.entries()) {
    if (news[n] === 0) continue;
    row.coming.isNews[row.reading] = 1;
    writeRow(source, row);
  }
}

/** Whether no time occurs twice, stored or among the rows, and no row replaces: as it is when the past fills in. */
function hasOnlyNewTimes(stored: Float64Array | null, rows: readonly ComparedRow[]): boolean {
  const times = new Set<number>();
  for (const { coming, reading, at } of rows) {
    if (coming.replacing.has(reading)) return false;
    times.add(coming.batch.rows[at + 1]!);
  }
  return times.size === rows.length && (stored === null || !stored.some((t) => times.has(t)));
}

/** Merges the rows as an import does, stores what contradicts, and tells which rows brought something new. */
function mergedNews(store: ReadingStore, source: number, dayMs: number, rows: readonly ComparedRow[]): Uint8Array {
  const gather = createDayGather();
  for (const { coming, reading, at } of rows) {
    const { rows: values } = coming.batch;
    const row = gather.addRow(values[at + 1]!);
    const end = at + HEAD + 2 * values[at + 2]!;
    for (let i = at + HEAD; i < end; i += 2) gather.setValue(row, values[i]!, values[i + 1]!);
    const extras = coming.extras.get(reading);
    if (extras !== undefined) gather.addExtras(row, extras);
    const revision = coming.replacing.get(reading);
    if (revision !== undefined) gather.markReplacing(row, revision);
  }
  const existing = store.readBlock(source, dayMs);
  const known = existing === null ? [] : store.claims(source, dayMs, dayMs + DAY_MS);
  const { kind } = journalOf(store.db).ownerOf(source);
  const { newClaims, isNews } = mergeDay(existing, gather, known, COLUMNS[kind]);
  for (const claim of newClaims) store.addClaim(source, claim);
  return isNews;
}

/** Stores the settings and alarms of a batch and counts its lines: one with a reading and an aside is one line. */
function countOf(store: ReadingStore, { batch, ids, isNews }: Coming, nextChange: () => number): IntakeCounts {
  let asides = 0;
  let news = 0;
  const count = (line: AsideLine, store: () => boolean): void => {
    const isNew = store();
    if (line.reading !== null) {
      if (isNew) isNews[line.reading] = 1;
      return;
    }
    asides++;
    if (isNew) news++;
  };
  for (const line of batch.settings) {
    const site = batch.sources[line.source]!.site;
    count(line, () => storeSettings(store, { site, source: ids[line.source]! }, line, nextChange));
  }
  for (const line of batch.alarms) {
    const site = batch.sources[line.source]!.site;
    count(line, () => storeAlarm(store, { site, source: ids[line.source]! }, line, nextChange));
  }
  for (let reading = 0; reading < isNews.length; reading++) news += isNews[reading]!;
  return { stored: news, alreadyThere: isNews.length + asides - news };
}
