/** The one door into ground state: batches in, merged into their blocks in one transaction, days marked as changed. */
import type { ReadingStore } from '../store/reading-store.ts';
import { COLUMNS } from '../vocabulary/quantities.ts';
import type { AlarmReading, ReadingBatch, SettingsReading, SourceKey } from '../vocabulary/reading.ts';
import { sourceName } from '../vocabulary/reading.ts';
import { DAY_MS } from '../vocabulary/time.ts';
import { storeAlarm, storeSettings } from './asides.ts';
import { createDayGather, type DayGather } from './day-gather.ts';
import { mergeDay } from './merge-day.ts';

/** The store behind the door; sources hand it on and know nothing of it. */
export type IntakeStore = ReadingStore;

/** What became of lines: fills and contradictions count as stored. */
export interface IntakeCounts {
  readonly stored: number;
  readonly alreadyThere: number;
}

export interface Intake {
  /** Gathers a batch in memory; nothing is stored before `flush`. */
  take(batch: ReadingBatch): void;
  /** About how much memory the gathered readings hold. */
  readonly pendingBytes: number;
  /**
   * Stores all that was gathered in one transaction, all or nothing.
   *
   * @param along further writes of the same transaction, such as how far a file was read
   */
  flush(along?: (counts: IntakeCounts) => void): IntakeCounts;
}

interface SourceGather {
  readonly key: SourceKey;
  readonly days: Map<number, DayGather>;
  lastDay: number;
  lastGather: DayGather | null;
}

/** What is known of one line that brought settings or an alarm: it may have brought a reading, too. */
interface Aside<Line> {
  readonly source: SourceGather;
  readonly line: Line;
  readonly reading: { readonly gather: DayGather; readonly row: number } | null;
}

export function createIntake(store: ReadingStore): Intake {
  let gathers = new Map<string, SourceGather>();
  let settings: Aside<SettingsReading>[] = [];
  let alarms: Aside<AlarmReading>[] = [];
  let pending = 0;

  const gatherOf = (key: SourceKey): SourceGather => {
    const name = sourceName(key);
    let gather = gathers.get(name);
    if (gather === undefined) {
      gather = { key, days: new Map(), lastDay: Number.NaN, lastGather: null };
      gathers.set(name, gather);
    }
    return gather;
  };

  return {
    take(batch) {
      const sources = batch.sources.map(gatherOf);
      const rowAt = scatter(batch, sources, needsRows(batch));
      for (const { reading, values } of batch.extras) rowAt[reading]!.gather.addExtras(rowAt[reading]!.row, values);
      for (const { reading, revision } of batch.replacing)
        rowAt[reading]!.gather.markReplacing(rowAt[reading]!.row, revision);
      for (const line of batch.settings)
        settings.push({
          source: sources[line.source]!,
          line,
          reading: line.reading === null ? null : rowAt[line.reading]!,
        });
      for (const line of batch.alarms)
        alarms.push({
          source: sources[line.source]!,
          line,
          reading: line.reading === null ? null : rowAt[line.reading]!,
        });
      pending += batch.rowsLength * 3 + 400 * (batch.extras.length + batch.settings.length + batch.alarms.length);
    },
    get pendingBytes() {
      return pending;
    },
    flush(along) {
      const counts = store.transaction(() => {
        const stored = storeAll(store, gathers, settings, alarms);
        along?.(stored);
        return stored;
      });
      gathers = new Map();
      settings = [];
      alarms = [];
      pending = 0;
      return counts;
    },
  };
}

const needsRows = (batch: ReadingBatch): boolean =>
  batch.extras.length + batch.replacing.length + batch.settings.length + batch.alarms.length > 0;

type Row = { readonly gather: DayGather; readonly row: number };

/** Moves the flat rows of a batch to the gathers of their days. */
function scatter(batch: ReadingBatch, sources: readonly SourceGather[], keepRows: boolean): readonly Row[] {
  const { rows, rowsLength } = batch;
  const rowAt: Row[] = [];
  let at = 0;
  while (at < rowsLength) {
    const source = sources[rows[at]!]!;
    const t = rows[at + 1]!;
    const end = at + 3 + 2 * rows[at + 2]!;
    const day = Math.floor(t / DAY_MS);
    let gather = source.lastGather;
    if (gather === null || source.lastDay !== day) {
      gather = source.days.get(day) ?? createDayGather();
      source.days.set(day, gather);
      source.lastDay = day;
      source.lastGather = gather;
    }
    const row = gather.addRow(t);
    for (at += 3; at < end; at += 2) gather.setValue(row, rows[at]!, rows[at + 1]!);
    if (keepRows) rowAt.push({ gather, row });
  }
  return rowAt;
}

function storeAll(
  store: ReadingStore,
  gathers: ReadonlyMap<string, SourceGather>,
  settings: readonly Aside<SettingsReading>[],
  alarms: readonly Aside<AlarmReading>[],
): IntakeCounts {
  let change: number | null = null;
  const nextChange = (): number => {
    change ??= store.nextChange();
    return change;
  };
  let stored = 0;
  let alreadyThere = 0;
  const newsOf = new Map<DayGather, Uint8Array>();
  for (const { key, days } of gathers.values()) {
    const source = store.sourceOf(key);
    for (const [dayNumber, gather] of days) {
      const dayMs = dayNumber * DAY_MS;
      const existing = store.readBlock(source, dayMs);
      const known = existing === null ? [] : store.claims(source, dayMs, dayMs + DAY_MS);
      const merged = mergeDay(existing, gather, known, COLUMNS[key.kind]);
      let news = 0;
      for (const isNew of merged.isNews) news += isNew;
      stored += news;
      alreadyThere += gather.count - news;
      newsOf.set(gather, merged.isNews);
      if (news === 0) continue;
      store.putBlock(source, merged.day);
      for (const claim of merged.newClaims) store.addClaim(source, claim);
      store.markDay(key.site, dayMs, nextChange());
    }
  }
  /** A line with a reading and an aside is one line: news if either is. */
  const countAside = (isNews: boolean, reading: Row | null): void => {
    if (reading === null) {
      if (isNews) stored++;
      else alreadyThere++;
    } else if (isNews && newsOf.get(reading.gather)![reading.row] === 0) {
      newsOf.get(reading.gather)![reading.row] = 1;
      stored++;
      alreadyThere--;
    }
  };
  const owner = ({ key }: SourceGather) => ({ site: key.site, source: store.sourceOf(key) });
  for (const { source, line, reading } of settings) {
    countAside(storeSettings(store, owner(source), line, nextChange), reading);
  }
  for (const { source, line, reading } of alarms) {
    countAside(storeAlarm(store, owner(source), line, nextChange), reading);
  }
  return { stored, alreadyThere };
}
