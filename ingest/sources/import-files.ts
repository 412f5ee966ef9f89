/** Reads log files into the store: decode on one core, merge and store on the other, memory flat, resumable. */
import { createHash } from 'node:crypto';
import { createImportProgress, type ImportProgress, type ProgressCounts } from '../intake/import-progress.ts';
import { createIntake, type Intake, type IntakeCounts, type IntakeStore } from '../intake/intake.ts';
import type { ReadingBatch } from '../vocabulary/reading.ts';
import type { Refusal } from '../vocabulary/refusal.ts';
import { createDecoding, type Decoding } from './decoding.ts';
import { fileBytes } from './file-bytes.ts';
import type { DecodedPiece } from './file-decoder.ts';
import { fileRefusal, type LogFile } from './log-files.ts';

const NOTHING_YET: ProgressCounts = { files: 0, lines: 0, stored: 0, alreadyThere: 0, refused: 0, sites: [] };
const PENDING_MAX_BYTES = 96 * 1024 * 1024;
/** Pieces that may wait for the decoding thread. */
const AHEAD = 10;

export interface ImportListener {
  /** A line, or a whole file, was not taken. */
  refused(refusal: Refusal): void;
  /** Something worth naming once. */
  note(text: string): void;
  /** How far the reading came. */
  progress(state: {
    readonly bytes: number;
    readonly bytesTotal: number;
    readonly lines: number;
    readonly path: string;
  }): void;
}

export interface ImportOptions {
  readonly files: readonly LogFile[];
  readonly columns: { readonly text: string; readonly file: string } | null;
  /** Gathered readings beyond it are stored; 96 MB where absent: large enough that a day comes whole, small enough to stay flat. */
  readonly pendingMaxBytes?: number | undefined;
}

export interface ImportResult extends ProgressCounts {
  /** Files that could not be read at all. */
  readonly unread: number;
}

/** Imports files. A run that was killed goes on where its last transaction ended; a run that ended starts anew. */
export async function importFiles(
  store: IntakeStore,
  options: ImportOptions,
  listener: ImportListener,
): Promise<ImportResult> {
  const run = createHash('sha256')
    .update(JSON.stringify([options.files.map((f) => f.path), options.columns?.text]))
    .digest('hex');
  const progress = createImportProgress(store, run);
  const importer = new Importer(store, progress, options, listener);
  try {
    const result = await importer.run();
    progress.clear();
    return result;
  } finally {
    await importer.close();
  }
}

/** A file on its way. */
interface FileRun {
  readonly file: LogFile;
  nextLine: number;
  isUnreadable: boolean;
}

interface Queued {
  readonly run: FileRun;
  readonly piece: Promise<DecodedPiece | null>;
  /** The end of the file: whole, or broken off by an error. */
  readonly last: { readonly broken: { readonly error: unknown } | null } | null;
}

type NextPiece = { readonly piece: Uint8Array } | { readonly error: unknown } | { readonly isEnd: true };

async function nextPiece(bytes: AsyncGenerator<Uint8Array>): Promise<NextPiece> {
  try {
    const { done, value } = await bytes.next();
    return done === true ? { isEnd: true } : { piece: value };
  } catch (error) {
    return { error };
  }
}

class Importer {
  readonly #intake: Intake;
  readonly #decoding: Decoding = createDecoding();
  readonly #progress: ImportProgress;
  readonly #options: ImportOptions;
  readonly #listener: ImportListener;
  #counts: ProgressCounts;
  readonly #sites: Set<string>;
  #unread = 0;
  /** Lines that were taken since the last flush, and refused ones: counted when they are stored. */
  #linesOpen = 0;
  #refusedOpen: { path: string; line: number; what: string; remedy: string }[] = [];
  #doneOpen: LogFile[] = [];
  #bytesBefore = 0;
  readonly #queue: Queued[] = [];

  constructor(store: IntakeStore, progress: ImportProgress, options: ImportOptions, listener: ImportListener) {
    this.#intake = createIntake(store);
    this.#progress = progress;
    this.#options = options;
    this.#listener = listener;
    this.#counts = progress.counts() ?? NOTHING_YET;
    this.#sites = new Set(this.#counts.sites);
  }

  close(): Promise<void> {
    return this.#decoding.close();
  }

  async run(): Promise<ImportResult> {
    if (this.#counts.refused > 0)
      this.#listener.note(`lines refused before the run was broken off, and named then: ${this.#counts.refused}`);
    for (const file of this.#options.files) {
      const at = this.#progress.of(file);
      if (at === 'done') this.#listener.note(`${file.path}: stored by the run that was broken off`);
      else await this.#read(file, at);
      this.#bytesBefore += file.bytes;
    }
    while (this.#queue.length > 0) await this.#takeNext();
    this.#flush(null);
    return { ...this.#counts, unread: this.#unread };
  }

  /** Hands a file to the decoder piece by piece; what comes of the pieces is taken in turn, across files. */
  async #read(file: LogFile, fromLine: number): Promise<void> {
    const columns = file.format === 'csv' ? this.#options.columns : null;
    // What a foreign CSV knows of its clocks is not kept, so it is read from its start; what is there is there.
    const from = columns === null ? fromLine : 1;
    if (from > 1) this.#listener.note(`${file.path}: goes on at line ${from}, where the run was broken off`);
    this.#decoding.open({ path: file.path, format: file.format, columns, fromLine: from });
    const run: FileRun = { file, nextLine: from, isUnreadable: false };
    const bytes = fileBytes(file, (read) => this.#say(file, read));
    let next = await nextPiece(bytes);
    try {
      // What goes wrong in storing is no fault of the file, and goes up from here.
      while ('piece' in next && !run.isUnreadable) {
        await this.#put({ run, piece: this.#decoding.feed(next.piece), last: null });
        next = await nextPiece(bytes);
      }
    } finally {
      await bytes.return(undefined);
    }
    const broken = 'error' in next ? next : null;
    // A line that was cut off with the file is never taken for a whole one.
    const piece = broken === null ? this.#decoding.end() : Promise.resolve(null);
    await this.#put({ run, piece, last: { broken } });
  }

  async #put(item: Queued): Promise<void> {
    this.#queue.push(item);
    while (this.#queue.length > AHEAD) await this.#takeNext();
  }

  async #takeNext(): Promise<void> {
    const { run, piece: promise, last } = this.#queue.shift()!;
    const piece = await promise;
    if (piece !== null) this.#takePiece(run, piece);
    if (last !== null) {
      if (last.broken !== null && this.#broke(run, last.broken.error)) run.isUnreadable = true;
      if (run.isUnreadable) this.#unread++;
      else this.#doneOpen.push(run.file);
    }
    if (this.#intake.pendingBytes > (this.#options.pendingMaxBytes ?? PENDING_MAX_BYTES))
      this.#flush(last === null ? run : null);
  }

  #takePiece(run: FileRun, piece: DecodedPiece): void {
    run.nextLine = Math.max(run.nextLine, piece.nextLine);
    for (const text of piece.notes) this.#listener.note(`${run.file.path}: ${text}`);
    if (piece.unreadable.length > 0 && !run.isUnreadable) {
      run.isUnreadable = true;
      for (const refusal of piece.unreadable) this.#listener.refused(refusal);
    }
    for (const batch of piece.batches) this.#batch(run.file, batch);
  }

  /** @returns whether nothing at all came of the file */
  #broke({ file, nextLine }: FileRun, error: unknown): boolean {
    const refusal = fileRefusal(file.path, error);
    if (nextLine <= 1) {
      this.#listener.refused(refusal);
      return true;
    }
    this.#linesOpen++;
    this.#refuse(file, {
      line: nextLine,
      what: `${refusal.what}; the ${nextLine - 1} lines before it were taken`,
      remedy: refusal.remedy,
    });
    return false;
  }

  #batch(file: LogFile, batch: ReadingBatch): void {
    this.#intake.take(batch);
    for (const { site } of batch.sources) this.#sites.add(site);
    this.#linesOpen += batch.lines;
    for (const refused of batch.refused) this.#refuse(file, refused);
  }

  #refuse(file: LogFile, { line, what, remedy }: { line: number; what: string; remedy: string }): void {
    this.#refusedOpen.push({ path: file.path, line, what, remedy });
    this.#listener.refused({ where: `${file.path}, line ${line}`, what, remedy });
  }

  #flush(at: { readonly file: LogFile; readonly nextLine: number } | null): void {
    let counts = this.#counts;
    this.#intake.flush(({ stored, alreadyThere }: IntakeCounts) => {
      counts = {
        files: counts.files + this.#doneOpen.length,
        lines: counts.lines + this.#linesOpen,
        stored: counts.stored + stored,
        alreadyThere: counts.alreadyThere + alreadyThere,
        refused: counts.refused + this.#refusedOpen.length,
        sites: [...this.#sites].sort(),
      };
      this.#progress.put({ done: this.#doneOpen, at, counts, refused: this.#refusedOpen });
    });
    this.#counts = counts;
    this.#linesOpen = 0;
    this.#refusedOpen = [];
    this.#doneOpen = [];
  }

  #say(file: LogFile, read: number): void {
    const bytesTotal = this.#options.files.reduce((sum, f) => sum + f.bytes, 0);
    this.#listener.progress({
      bytes: this.#bytesBefore + read,
      bytesTotal,
      lines: this.#counts.lines + this.#linesOpen,
      path: file.path,
    });
  }
}
