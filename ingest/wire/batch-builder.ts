import type {
  AlarmReading,
  ExtraValues,
  ReadingBatch,
  RefusedLine,
  Replacing,
  SettingsReading,
} from '../vocabulary/reading.ts';
import { type SourceKey, sourceName } from '../vocabulary/reading.ts';
import { epochMs } from '../vocabulary/time.ts';
import type { Fault, LineMeaning } from './line-meaning.ts';

/** Numbers before the values of a reading: place of its source, t, count of values. */
const HEAD = 3;
const SMALLEST_LOG = 1024;

/**
 * Grows one `ReadingBatch`: every decoder writes through it, so that the row log has one author.
 *
 * A row is begun, values are put, and it is ended or dropped; `take` does all that for a line that
 * was understood as a whole. `finish` hands the batch over and starts the next one.
 */
export class BatchBuilder {
  #rows = new Float64Array(SMALLEST_LOG);
  #length = 0;
  /** Where the row that is being written began. */
  #base = 0;
  #readings = 0;
  #lines = 0;
  #sources: SourceKey[] = [];
  #places = new Map<string, number>();
  #extras: ExtraValues[] = [];
  #replacing: Replacing[] = [];
  #settings: SettingsReading[] = [];
  #alarms: AlarmReading[] = [];
  #refused: RefusedLine[] = [];

  /** Starts a reading; whatever was put since the last `endRow` is forgotten. */
  beginRow(): void {
    this.#length = this.#base + HEAD;
    if (this.#length > this.#rows.length) this.#grow();
  }

  /** One value of the reading that was begun: its `Column.index` and stored integer. */
  put(column: number, stored: number): void {
    const at = this.#length;
    if (at + 2 > this.#rows.length) this.#grow();
    this.#rows[at] = column;
    this.#rows[at + 1] = stored;
    this.#length = at + 2;
  }

  /** The reading is whole. @returns its place, counted in readings from 0 */
  endRow(source: number, t: number): number {
    const base = this.#base;
    this.#rows[base] = source;
    this.#rows[base + 1] = t;
    this.#rows[base + 2] = (this.#length - base - HEAD) / 2;
    this.#base = this.#length;
    this.#readings += 1;
    return this.#readings - 1;
  }

  /** The reading that was begun is not taken after all. */
  dropRow(): void {
    this.#length = this.#base;
  }

  /** The place of a source in this batch; named now if it was not yet. */
  placeOf(source: SourceKey): number {
    const name = sourceName(source);
    const known = this.#places.get(name);
    if (known !== undefined) return known;
    const place = this.#sources.length;
    this.#sources.push(source);
    this.#places.set(name, place);
    return place;
  }

  addExtras(reading: number, values: Readonly<Record<string, unknown>>): void {
    this.#extras.push({ reading, values });
  }

  /** One line was read; call it once for each line that is taken. */
  countLine(): void {
    this.#lines += 1;
  }

  /** One line was read and is not taken. */
  refuse(line: number, { what, remedy }: Fault): void {
    this.#lines += 1;
    this.#refused.push({ line, what, remedy });
  }

  /** Everything one understood line says. The caller counts the line: a line may say several things. */
  take(meaning: LineMeaning): void {
    const { t, values, extras, replaces, revision, settings, alarm } = meaning;
    const source = this.placeOf(meaning.source);
    let reading: number | null = null;
    const says = values.length > 0 || extras !== null;
    // A line that brings neither is a reading without values. One that brings both is given one too: it holds the
    // two together, so that they are counted as the one line they are.
    if (says || (settings === null) === (alarm === null)) {
      this.beginRow();
      for (let k = 0; k < values.length; k += 2) this.put(values[k]!, values[k + 1]!);
      reading = this.endRow(source, t);
      if (extras !== null) this.addExtras(reading, extras);
      if (replaces) this.#replacing.push({ reading, revision });
    }
    if (settings !== null)
      this.#settings.push({ source, t: epochMs(t), values: settings, replaces, revision, reading });
    if (alarm !== null) this.#alarms.push({ source, t: epochMs(t), ...alarm, reading });
  }

  /** Hands over what was gathered, and begins an empty batch. */
  finish(): ReadingBatch {
    const batch: ReadingBatch = {
      sources: this.#sources,
      rows: this.#rows,
      rowsLength: this.#base,
      readings: this.#readings,
      extras: this.#extras,
      replacing: this.#replacing,
      settings: this.#settings,
      alarms: this.#alarms,
      refused: this.#refused,
      lines: this.#lines,
    };
    // The next piece of input is most often about as long as this one: no growing on the way.
    this.#rows = new Float64Array(Math.max(SMALLEST_LOG, Math.ceil(this.#base * 1.1)));
    this.#length = 0;
    this.#base = 0;
    this.#readings = 0;
    this.#lines = 0;
    this.#sources = [];
    this.#places = new Map();
    this.#extras = [];
    this.#replacing = [];
    this.#settings = [];
    this.#alarms = [];
    this.#refused = [];
    return batch;
  }

  #grow(): void {
    const longer = new Float64Array(Math.max(this.#rows.length * 2, this.#length + HEAD));
    longer.set(this.#rows);
    this.#rows = longer;
  }
}
