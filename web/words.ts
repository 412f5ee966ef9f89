/** The language that the board speaks. Another one is another table of the same words, chosen here. */
import type { BoardWords } from '../server/views/board-words.ts';
import { ENGLISH } from '../server/views/english.ts';
import type { Words } from '../server/views/words.ts';

export const WORDS: Words = ENGLISH;
/** Of the pages themselves: heads, buttons, keys. */
export const BOARD: BoardWords = WORDS.board;
