import { describe, expect, test } from 'vitest';
import { createLineChunks, type LineChunksOptions, type Piece } from '../../../ingest/wire/line-chunks.ts';
import { CSV_ROWS, MOST_ROW_LINES, PLAIN_LINES } from '../../../ingest/wire/row-end.ts';
import { bytesOf } from './describe-batch.ts';

function feedAll(parts: readonly (string | Uint8Array)[], options: Partial<LineChunksOptions> = {}): Piece[] {
  const chunks = createLineChunks({ form: PLAIN_LINES, ...options });
  const fed = parts.flatMap((part) => [...chunks.feed(typeof part === 'string' ? bytesOf(part) : part)]);
  return [...fed, ...chunks.end()];
}
function show(pieces: readonly Piece[]): unknown[] {
  return pieces.map((piece) =>
    piece.kind === 'lines'
      ? [
          piece.firstLine,
          new TextDecoder().decode(piece.bytes),
          piece.endOffset,
          ...(piece.unterminated ? ['unterminated'] : []),
        ]
      : [piece.refused.line, piece.refused.what, piece.endOffset],
  );
}

describe('createLineChunks', () => {
  test('gives whole lines, their first number and the place after them', () => {
    expect(show(feedAll(['one\ntw', 'o\n', '\nfour\n']))).toEqual([
      [1, 'one\n', 4],
      [2, 'two\n', 8],
      [3, '\nfour\n', 14],
    ]);
  });

  test('gives a last line without a newline only at the end, and says so', () => {
    expect(show(feedAll(['one\ntwo']))).toEqual([
      [1, 'one\n', 4],
      [2, 'two', 7, 'unterminated'],
    ]);
    expect(show(feedAll(['one\n']))).toEqual([[1, 'one\n', 4]]);
    expect(feedAll([])).toEqual([]);
  });

  test('goes on counting where an earlier reading of the file stopped', () => {
    expect(show(feedAll(['x\ny\n'], { startOffset: 100, startLine: 8 }))).toEqual([[8, 'x\ny\n', 104]]);
  });

  test('refuses a line that is too long once, with its length, and takes the lines round it', () => {
    const long = 'x'.repeat(50);
    const expected = [
      [1, 'a\n', 2],
      [2, 'line of 51 bytes', 53],
      [3, 'b\n', 55],
    ];
    expect(show(feedAll([`a\n${long}\nb\n`], { mostLineBytes: 20 }))).toEqual(expected);
    expect(show(feedAll(['a\n', ...long, '\n', 'b\n'], { mostLineBytes: 20 }))).toEqual(expected);
    expect(show(feedAll(['a\n', long], { mostLineBytes: 20 }))).toEqual([
      [1, 'a\n', 2],
      [2, 'line of 50 bytes', 52],
    ]);
  });

  test('holds no more of a long line than the limit, and writes its length with separators', () => {
    const chunks = createLineChunks({ form: PLAIN_LINES });
    const block = new Uint8Array(1 << 20);
    for (let k = 0; k < 64; k += 1) expect(chunks.feed(block)).toEqual([]);
    const pieces = [...chunks.feed(bytesOf('\nnext\n')), ...chunks.end()];
    expect(show(pieces)).toEqual([
      [1, 'line of 67,108,865 bytes', 67_108_865],
      [2, 'next\n', 67_108_870],
    ]);
  });

  test('passes NUL bytes on: what they mean is for the decoder to say', () => {
    expect(show(feedAll(['a\u0000b\n']))).toEqual([[1, 'a\u0000b\n', 4]]);
  });

  test('cuts no row inside of a quoted cell', () => {
    expect(show(feedAll(['a,"x\n', 'y"\nb\n'], { form: CSV_ROWS }))).toEqual([[1, 'a,"x\ny"\nb\n', 10]]);
    expect(show(feedAll(['a,"x\n', 'y""\nz"\nb\n'], { form: CSV_ROWS }))).toEqual([[1, 'a,"x\ny""\nz"\nb\n', 14]]);
  });

  test('a quote in the middle of a cell opens nothing', () => {
    expect(show(feedAll(['a,5" pipe\n', 'b\n'], { form: CSV_ROWS }))).toEqual([
      [1, 'a,5" pipe\n', 10],
      [2, 'b\n', 12],
    ]);
  });

  test('a quote that is never closed holds back a bounded number of lines', () => {
    const rows = Array.from({ length: MOST_ROW_LINES + 5 }, (_, k) => `row ${k}\n`);
    const chunks = createLineChunks({ form: CSV_ROWS });
    const pieces = ['"open\n', ...rows].flatMap((row) => [...chunks.feed(bytesOf(row))]);
    expect(show(pieces)[0]).toMatchObject([1, expect.stringMatching(/^"open\nrow 0\n/), expect.any(Number)]);
    expect(show(chunks.end())).toEqual([]);
    expect(show(feedAll(['"open\nb\nc\n'], { form: CSV_ROWS }))).toEqual([[1, '"open\nb\nc\n', 10]]);
  });

  test('a quoted row that is too long gives its first line, and goes on after it', () => {
    const pieces = show(
      feedAll([`"open\n${'y'.repeat(10)}\n${'z'.repeat(10)}\n`], { form: CSV_ROWS, mostLineBytes: 20 }),
    );
    expect(pieces[0]).toEqual([1, '"open\n', 6]);
    expect(pieces.flatMap((piece) => (piece as unknown[])[1]).join('')).toBe(
      `"open\n${'y'.repeat(10)}\n${'z'.repeat(10)}\n`,
    );
  });

  test('in UTF-16 only a newline of two bytes ends a line', () => {
    const text = Buffer.from('a\u0a00b\nc\n', 'utf16le');
    const whole = feedAll([text], { form: { quotedCells: null, unitBytes: 2 } });
    const single = feedAll(
      [...text].map((byte) => Uint8Array.of(byte)),
      { form: { quotedCells: null, unitBytes: 2 } },
    );
    const lines = (pieces: Piece[]): string[] =>
      pieces.map((piece) => (piece.kind === 'lines' ? Buffer.from(piece.bytes).toString('utf16le') : 'refused'));
    expect(lines(whole)).toEqual(['a\u0a00b\nc\n']);
    expect(lines(single)).toEqual(['a\u0a00b\n', 'c\n']);
    expect(single.map(({ endOffset }) => endOffset)).toEqual([8, 12]);
  });
});
