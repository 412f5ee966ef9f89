import { instant } from './live.ts';
import type { Known } from './use-answer.ts';

/** The page's ages move in such steps. */
const STEP_MS = 30_000;

/**
 * What time it is by the server's clock: that of the answer, and how long it has been here since. Without news an answer
 * is not asked for again, and what it says was heard "20 s ago" must grow old all the same.
 */
export function useNow(known: Known<{ readonly now: number }>): number {
  if (known.state !== 'here') return instant.value;
  const past = Math.max(0, instant.value - known.at);
  return known.data.now + Math.floor(past / STEP_MS) * STEP_MS;
}
