import { useRef } from 'preact/hooks';
import type { Known } from '../api/use-answer.ts';

/** The newest answer there was: while another window is asked for, the one before stays on the screen. */
export function useLast<Data>(known: Known<Data>): Data | null {
  const last = useRef<Data | null>(null);
  if (known.state === 'here') last.current = known.data;
  return last.current;
}
