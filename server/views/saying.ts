/** What every sentence needs besides its figures: the words, the site's zone, and when it is read. */
import type { Words } from './words.ts';

export interface Saying {
  readonly words: Words;
  /** IANA time zone in which times are said: the site's, or UTC where the reader asked for it. */
  readonly zone: string;
  /** Epoch ms. */
  readonly now: number;
}
