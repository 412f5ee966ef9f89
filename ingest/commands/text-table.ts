/** Text in columns for a terminal of a given width. */

export interface TextColumn {
  readonly title: string;
  readonly align: 'left' | 'right';
  /** One a row. */
  readonly cells: readonly string[];
  /** Where the width does not suffice, columns are left out, the highest number first; absent: never. */
  readonly spare?: number;
}

const GAP = '  ';

const widthOf = ({ title, cells }: TextColumn): number => Math.max(title.length, ...cells.map((cell) => cell.length));

/** Header and rows as lines no wider than `width`, as far as the columns that may not be left out allow. */
export function textTable(columns: readonly TextColumn[], width: number): string[] {
  let kept = [...columns];
  const total = (): number => kept.reduce((sum, column) => sum + widthOf(column) + GAP.length, -GAP.length);
  while (total() > width) {
    const sparest = Math.max(...kept.map(({ spare }) => spare ?? 0));
    if (sparest === 0) break;
    kept = kept.filter(({ spare }) => spare !== sparest);
  }
  const widths = kept.map(widthOf);
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, i) => (kept[i]!.align === 'right' ? cell.padStart(widths[i]!) : cell.padEnd(widths[i]!)))
      .join(GAP)
      .trimEnd();
  const rows = kept[0]?.cells.length ?? 0;
  return [
    line(kept.map(({ title }) => title)),
    ...Array.from({ length: rows }, (_, row) => line(kept.map(({ cells }) => cells[row]!))),
  ];
}

/** Breaks a text between words; a word longer than the width stays whole. */
export function wrapText(text: string, width: number): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line);
      line = word;
    } else line = line === '' ? word : `${line} ${word}`;
  }
  return [...lines, line];
}

/** A text after a fixed beginning, its further lines standing under its first. */
export function hangingText(beginning: string, text: string, width: number): string[] {
  const indent = ' '.repeat(beginning.length);
  return wrapText(text, Math.max(20, width - beginning.length)).map((line, i) => (i === 0 ? beginning : indent) + line);
}
