/** In whose time and in which words a page speaks. */
import { useLocation } from 'preact-iso';
import type { Saying } from '../../server/views/saying.ts';
import { clockOf } from '../url/view.ts';
import { WORDS } from '../words.ts';

/** Where no site gives one: the zone of the reader. */
export const READERS_ZONE = Intl.DateTimeFormat().resolvedOptions().timeZone;

/** Words, zone and instant for the sentences of a page. `zone`: of the site; UTC where the reader asked for it. */
export function useSaying(zone: string, now: number): Saying {
  const { utc } = clockOf(useLocation().url);
  return { words: WORDS, zone: utc ? 'UTC' : zone, now };
}
