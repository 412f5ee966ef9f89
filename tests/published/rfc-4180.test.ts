import { describe, expect, test } from 'vitest';
import { splitCells, withoutLineEnd } from '../../ingest/wire/csv-cells.ts';
import { createLineChunks } from '../../ingest/wire/line-chunks.ts';
import { CSV_ROWS, rowEnd } from '../../ingest/wire/row-end.ts';

const PUBLISHED = [
  {
    source: 'RFC 4180, section 2, rule 1',
    text: 'aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n',
    rows: [
      ['aaa', 'bbb', 'ccc'],
      ['zzz', 'yyy', 'xxx'],
    ],
  },
  {
    source: 'RFC 4180, section 2, rule 2: the last line may lack its break',
    text: 'aaa,bbb,ccc\r\nzzz,yyy,xxx',
    rows: [
      ['aaa', 'bbb', 'ccc'],
      ['zzz', 'yyy', 'xxx'],
    ],
  },
  { source: 'RFC 4180, section 2, rule 4', text: 'aaa,bbb,ccc', rows: [['aaa', 'bbb', 'ccc']] },
  {
    source: 'RFC 4180, section 2, rule 5',
    text: '"aaa","bbb","ccc"\r\nzzz,yyy,xxx',
    rows: [
      ['aaa', 'bbb', 'ccc'],
      ['zzz', 'yyy', 'xxx'],
    ],
  },
  {
    source: 'RFC 4180, section 2, rule 6',
    text: '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
    rows: [
      ['aaa', 'b\r\nbb', 'ccc'],
      ['zzz', 'yyy', 'xxx'],
    ],
  },
  { source: 'RFC 4180, section 2, rule 7', text: '"aaa","b""bb","ccc"', rows: [['aaa', 'b"bb', 'ccc']] },
] as const;

function rowsOf(bytes: Uint8Array): (readonly string[] | null)[] {
  const rows: (readonly string[] | null)[] = [];
  for (let at = 0; at < bytes.length; ) {
    const end = rowEnd(bytes, at, CSV_ROWS, true);
    rows.push(splitCells(withoutLineEnd(new TextDecoder().decode(bytes.subarray(at, end))), ','));
    at = end;
  }
  return rows;
}

describe('the rows and cells of a CSV', () => {
  test.each(PUBLISHED)('agree with $source', ({ text, rows }) => {
    const bytes = new TextEncoder().encode(text);
    expect(rowsOf(bytes)).toEqual(rows);
    for (let cut = 0; cut <= bytes.length; cut += 1) {
      const chunks = createLineChunks({ form: CSV_ROWS });
      const pieces = [...chunks.feed(bytes.subarray(0, cut)), ...chunks.feed(bytes.subarray(cut)), ...chunks.end()];
      expect(pieces.flatMap((piece) => (piece.kind === 'lines' ? rowsOf(piece.bytes) : []))).toEqual(rows);
    }
  });
});
