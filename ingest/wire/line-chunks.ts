import type { RefusedLine } from '../vocabulary/reading.ts';
import { countLines, type LineForm, newlineEnd, rowEnd } from './row-end.ts';

/** No log line is longer; a longer one is a binary file or a lost newline, and must not fill the memory. */
const MOST_LINE_BYTES = 1024 * 1024;

/** Whole lines of a file, to be given to a decoder as they are. */
interface Lines {
  readonly kind: 'lines';
  readonly bytes: Uint8Array;
  /** Number of the first of them in the file, from 1. */
  readonly firstLine: number;
  /** Number of the line that comes after them. */
  readonly nextLine: number;
  /** Place in the file after the last of them, bytes from 0. */
  readonly endOffset: number;
  /** The last line has no newline: it may still be written on. Only `end` gives such lines. */
  readonly unterminated: boolean;
}

/** A line that was too long to be held. */
interface SkippedLine {
  readonly kind: 'skipped';
  readonly refused: RefusedLine;
  readonly endOffset: number;
}

export type Piece = Lines | SkippedLine;

export interface LineChunks {
  /** Takes the next bytes of the file, in pieces of any size. They must not be changed afterwards. */
  feed(bytes: Uint8Array): readonly Piece[];
  /** Nothing more comes: what is held is given out. */
  end(): readonly Piece[];
}

export interface LineChunksOptions {
  readonly form: LineForm;
  /** Where in the file the first byte stands, and in which line; 0 and 1 for a whole file. */
  readonly startOffset?: number;
  readonly startLine?: number;
  readonly mostLineBytes?: number;
}

/** Cuts a file into whole lines, however its bytes arrive, and holds no more than one line of it. */
export function createLineChunks(options: LineChunksOptions): LineChunks {
  return new LineSplitter(options);
}

class LineSplitter implements LineChunks {
  readonly #form: LineForm;
  readonly #most: number;
  /** Bytes of a line that has not ended yet, and how many. */
  #held = new Uint8Array(0);
  #heldLength = 0;
  /** Place in the file and number of the line that begins with the held bytes, or is being skipped. */
  #offset: number;
  #line: number;
  /** How much of a too long line went by; 0 while none is being skipped. */
  #skipped = 0;
  #pieces: Piece[] = [];

  constructor({ form, startOffset = 0, startLine = 1, mostLineBytes = MOST_LINE_BYTES }: LineChunksOptions) {
    this.#form = form;
    this.#most = mostLineBytes;
    this.#offset = startOffset;
    this.#line = startLine;
  }

  feed(bytes: Uint8Array): readonly Piece[] {
    let rest = bytes;
    if (this.#skipped > 0) rest = this.#skip(bytes);
    if (rest.length > 0) {
      const data = this.#append(rest);
      const mayEnd = rest.indexOf(10) !== -1 || data.length > this.#most;
      if (mayEnd) this.#keep(data, this.#cut(data, false));
    }
    return this.#givePieces();
  }

  end(): readonly Piece[] {
    if (this.#skipped > 0) {
      this.#refuse(this.#skipped);
      this.#skipped = 0;
    }
    const data = this.#held.subarray(0, this.#heldLength);
    this.#keep(data, this.#cut(data, true));
    return this.#givePieces();
  }

  /** @returns what follows the line that is being skipped */
  #skip(bytes: Uint8Array): Uint8Array {
    const end = this.#form.unitBytes === 1 ? newlineEnd(bytes, 0, 1) : this.#skipEnd16(bytes);
    if (end === -1) {
      this.#skipped += bytes.length;
      return bytes.subarray(bytes.length);
    }
    this.#refuse(this.#skipped + end);
    this.#skipped = 0;
    return bytes.subarray(end);
  }

  /** UTF-16 arrives in odd pieces too: only a newline on an even place of the line counts. */
  #skipEnd16(bytes: Uint8Array): number {
    const isOdd = this.#skipped % 2 === 1;
    const end = newlineEnd(isOdd ? bytes.subarray(1) : bytes, 0, 2);
    return end === -1 || !isOdd ? end : end + 1;
  }

  /** @returns all bytes from the start of the line that has not ended */
  #append(bytes: Uint8Array): Uint8Array {
    const length = this.#heldLength + bytes.length;
    if (this.#heldLength === 0 && bytes.indexOf(10) !== -1) return bytes;
    if (length > this.#held.length) {
      const longer = new Uint8Array(Math.max(length, 2 * this.#held.length));
      longer.set(this.#held.subarray(0, this.#heldLength));
      this.#held = longer;
    }
    this.#held.set(bytes, this.#heldLength);
    this.#heldLength = length;
    return this.#held.subarray(0, length);
  }

  /** Holds what was not given out, in memory of its own: the pieces refer to the other. */
  #keep(data: Uint8Array, from: number): void {
    this.#held = data.slice(from);
    this.#heldLength = this.#held.length;
  }

  /** Gives out the whole lines of `data`. @returns where the line begins that has not ended */
  #cut(data: Uint8Array, isWhole: boolean): number {
    const { quotedCells, unitBytes } = this.#form;
    const isPlain = unitBytes === 1 && (quotedCells === null || data.indexOf(34) === -1);
    if (isPlain && data.length <= this.#most) {
      const end = isWhole ? data.length : data.lastIndexOf(10) + 1;
      this.#give(data, 0, end, isWhole);
      return end;
    }
    let given = 0;
    let at = 0;
    for (;;) {
      if (at >= data.length) break;
      const end = rowEnd(data, at, this.#form, isWhole);
      const isTooLong = (end === -1 ? data.length : end) - at > this.#most;
      if (end === -1 && !isTooLong) break;
      if (isTooLong) {
        this.#give(data, given, at, false);
        at = this.#passLong(data, at, end);
        given = at;
      } else {
        at = end;
      }
    }
    this.#give(data, given, at, isWhole);
    return at;
  }

  /** A row that is too long: if it is one for its quotes, only its first line is taken, by itself. @returns where the next row begins */
  #passLong(data: Uint8Array, at: number, end: number): number {
    const lineEnd = newlineEnd(data.subarray(at), 0, this.#form.unitBytes);
    if (lineEnd !== -1 && lineEnd <= this.#most) {
      this.#give(data, at, at + lineEnd, false);
      return at + lineEnd;
    }
    if (lineEnd !== -1 || end !== -1) {
      const length = lineEnd === -1 ? end - at : lineEnd;
      this.#refuse(length);
      return at + length;
    }
    this.#skipped = data.length - at;
    return data.length;
  }

  #give(data: Uint8Array, from: number, to: number, isLast: boolean): void {
    if (to <= from) return;
    const bytes = data.subarray(from, to);
    const lines = countLines(bytes, this.#form.unitBytes);
    this.#offset += bytes.length;
    const unterminated =
      isLast && newlineEnd(bytes, Math.max(0, bytes.length - this.#form.unitBytes), this.#form.unitBytes) === -1;
    const firstLine = this.#line;
    this.#line += unterminated ? lines + 1 : lines;
    this.#pieces.push({ kind: 'lines', bytes, firstLine, nextLine: this.#line, endOffset: this.#offset, unterminated });
  }

  #refuse(length: number): void {
    this.#offset += length;
    const what = `line of ${length.toLocaleString('en')} bytes`;
    const remedy = `a log line has at most ${this.#most.toLocaleString('en')}: check that this is a log file and that its lines end in a newline`;
    this.#pieces.push({ kind: 'skipped', refused: { line: this.#line, what, remedy }, endOffset: this.#offset });
    this.#line += 1;
  }

  #givePieces(): readonly Piece[] {
    const pieces = this.#pieces;
    this.#pieces = [];
    return pieces;
  }
}
