import { describe, expect, test } from 'vitest';
import { csvCell } from '../../../ingest/commands/csv-cell.ts';
import { durationWords, figure } from '../../../ingest/commands/figures.ts';
import { hangingText, textTable, wrapText } from '../../../ingest/commands/text-table.ts';

describe('textTable', () => {
  const columns = [
    { title: 'Site', align: 'left', cells: ['a', 'longer'] },
    { title: 'W', align: 'right', cells: ['1215', '-7'], spare: 1 },
    { title: 'Note', align: 'left', cells: ['x', 'y'], spare: 2 },
  ] as const;

  test('stands figures under each other', () => {
    expect(textTable(columns, 80)).toEqual(['Site       W  Note', 'a       1215  x', 'longer    -7  y']);
  });

  test('leaves out the sparest columns first, and never one that is needed', () => {
    expect(textTable(columns, 15)).toEqual(['Site       W', 'a       1215', 'longer    -7']);
    expect(textTable(columns, 1)).toEqual(['Site', 'a', 'longer']);
  });
});

describe('wrapText and hangingText', () => {
  test('break between words and keep a long word whole', () => {
    expect(wrapText('one two three', 7)).toEqual(['one two', 'three']);
    expect(wrapText('extraordinary', 4)).toEqual(['extraordinary']);
    expect(hangingText('  > ', 'one two three four five six', 20)).toEqual(['  > one two three four', '    five six']);
  });
});

describe('figure, durationWords and csvCell', () => {
  test('write no minus before a zero', () => {
    expect(figure(-0.04, 1)).toBe('0.0');
    expect(figure(-0.06, 1)).toBe('-0.1');
  });

  test.each([
    [45_000, '45 s'],
    [725_000, '12 min'],
    [7_260_000, '2 h 1 min'],
    [3_600_000, '1 h'],
    [273_600_000, '3 d 4 h'],
  ])('say %i ms as %s', (ms, words) => {
    expect(durationWords(ms)).toBe(words);
  });

  test('quote only what must be quoted', () => {
    expect([null, 1.5, 'a b', 'a,b', 'a"b', 'a\nb'].map(csvCell)).toEqual([
      '',
      '1.5',
      'a b',
      '"a,b"',
      '"a""b"',
      '"a\nb"',
    ]);
  });
});
