/** What the board's furniture is called: as English calls it, in any language. */
import type { ENGLISH_BOARD } from './english-board.ts';

/** The same keys with any text for each: sentences with figures in them stay functions of these. */
type Worded<Table> = {
  readonly [Key in keyof Table]: Table[Key] extends string
    ? string
    : Table[Key] extends (...figures: infer Figures) => string
      ? (...figures: Figures) => string
      : Table[Key] extends object
        ? Worded<Table[Key]>
        : Table[Key];
};

export type BoardWords = Worded<typeof ENGLISH_BOARD>;
