/** Bytes of one log file → batches, whatever its form; holds the state between pieces. */
import type { ReadingBatch, RefusedLine } from '../vocabulary/reading.ts';
import type { Refusal } from '../vocabulary/refusal.ts';
import { type ColumnMap, parseColumnMap } from '../wire/column-map.ts';
import { createCsvDecoder } from '../wire/csv.ts';
import { findHeader } from '../wire/csv-header.ts';
import { createForeignCsvDecoder } from '../wire/foreign-csv.ts';
import { createLineChunks, type LineChunks, type Piece } from '../wire/line-chunks.ts';
import { createNdjsonDecoder } from '../wire/ndjson.ts';
import { CSV_ROWS, type LineForm, PLAIN_LINES } from '../wire/row-end.ts';

export interface FileForm {
  readonly path: string;
  readonly format: 'ndjson' | 'csv';
  /** The text and name of a column map, for a CSV of another form. */
  readonly columns: { readonly text: string; readonly file: string } | null;
  /** Lines before it were stored by an earlier run. */
  readonly fromLine: number;
}

/** What came of a piece of a file. */
export interface DecodedPiece {
  readonly batches: readonly ReadingBatch[];
  /** Number of the line that comes next. */
  readonly nextLine: number;
  /** Why the file can't be read at all, where it can't. */
  readonly unreadable: readonly Refusal[];
  /** Things worth naming once a file. */
  readonly notes: readonly string[];
}

type Decode = (bytes: Uint8Array, firstLine: number) => ReadingBatch;

/** Made anew each time: the rows of a batch are handed to another thread, and can be only once. */
const emptyBatch = (): ReadingBatch => ({
  sources: [],
  rows: new Float64Array(0),
  rowsLength: 0,
  readings: 0,
  extras: [],
  replacing: [],
  settings: [],
  alarms: [],
  refused: [],
  lines: 0,
});

/** Decodes one file; `feed` in file order, then `end`. */
export class FileDecoder {
  readonly #form: FileForm;
  readonly #map: ColumnMap | null;
  readonly #lineForm: LineForm;
  readonly #lines: LineChunks;
  #decode: Decode | null;
  /** Whole lines that came before the header was found. */
  #head: Uint8Array[] = [];
  #nextLine = 1;
  #unreadable: Refusal[] = [];
  #notes: string[] = [];
  #statesOf: (() => ReadonlyMap<string, number>) | null = null;

  constructor(form: FileForm) {
    this.#form = form;
    this.#map =
      form.format === 'csv' && form.columns !== null ? parseColumnMap(form.columns.text, form.columns.file).map : null;
    this.#lineForm = form.format === 'ndjson' ? PLAIN_LINES : (this.#map?.form ?? CSV_ROWS);
    this.#lines = createLineChunks({ form: this.#lineForm });
    const ndjson = createNdjsonDecoder();
    this.#decode = form.format === 'ndjson' ? (bytes, line) => ndjson.decode(bytes, line) : null;
  }

  feed(bytes: Uint8Array): DecodedPiece {
    return this.#result(this.#lines.feed(bytes).flatMap((piece) => this.#take(piece)));
  }

  end(): DecodedPiece {
    const batches = this.#lines.end().flatMap((piece) => this.#take(piece));
    if (this.#decode === null && this.#unreadable.length === 0)
      this.#refuseFile('it is empty: there is no header', 'write the header as the first line: t,site,unit,…');
    for (const [state, rows] of this.#statesOf?.() ?? [])
      this.#notes.push(`${state} is in no states map: taken as absent on ${rows} rows`);
    return this.#result(batches);
  }

  /** The piece that was being read when the file broke off: a line that began and did not end. */
  get nextLine(): number {
    return this.#nextLine;
  }

  #result(batches: ReadingBatch[]): DecodedPiece {
    const notes = this.#notes;
    this.#notes = [];
    return { batches, nextLine: this.#nextLine, unreadable: this.#unreadable, notes };
  }

  #take(piece: Piece): ReadingBatch[] {
    if (this.#unreadable.length > 0) return [];
    if (piece.kind === 'skipped') {
      this.#nextLine = piece.refused.line + 1;
      return piece.refused.line < this.#form.fromLine ? [] : [{ ...emptyBatch(), refused: [piece.refused], lines: 1 }];
    }
    if (this.#decode !== null) return this.#rows(piece.bytes, piece.firstLine, piece.nextLine);
    this.#head.push(piece.bytes);
    const bytes = this.#head.length === 1 ? piece.bytes : joined(this.#head);
    const place = findHeader(bytes, this.#lineForm, this.#map?.skipLines ?? 0);
    if (place === null) return [];
    this.#head = [];
    const refused = this.#open(place.header);
    for (const { line, what, remedy } of refused) this.#refuseFile(what, remedy, place.headerLine + line - 1);
    if (refused.length > 0) return [];
    const body = bytes.subarray(place.bodyOffset);
    this.#nextLine = place.bodyLine;
    return body.length === 0 ? [] : this.#rows(body, place.bodyLine, piece.nextLine);
  }

  /** @returns what is wrong with the header */
  #open(header: Uint8Array): readonly RefusedLine[] {
    if (this.#map === null) {
      const csv = createCsvDecoder(header);
      this.#decode = (bytes, line) => csv.decode(bytes, line);
      return csv.refusals;
    }
    const foreign = createForeignCsvDecoder(this.#map, header);
    this.#decode = (bytes, line) => foreign.decode(bytes, line);
    this.#statesOf = () => foreign.unknownStates;
    if (foreign.unmapped.length > 0)
      this.#notes.push(`columns that the map does not name are left out: ${foreign.unmapped.join(', ')}`);
    return foreign.refusals;
  }

  #rows(bytes: Uint8Array, firstLine: number, nextLine: number): ReadingBatch[] {
    const skip = this.#form.fromLine - firstLine;
    this.#nextLine = nextLine;
    if (skip <= 0) return [this.#decode!(bytes, firstLine)];
    if (this.#nextLine <= this.#form.fromLine) return [];
    let at = 0;
    for (let line = 0; line < skip; line++) at = bytes.indexOf(10, at) + 1;
    return at >= bytes.length ? [] : [this.#decode!(bytes.subarray(at), this.#form.fromLine)];
  }

  #refuseFile(what: string, remedy: string, line = 1): void {
    this.#unreadable.push({ where: `${this.#form.path}, line ${line}`, what, remedy });
  }
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  const all = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}
