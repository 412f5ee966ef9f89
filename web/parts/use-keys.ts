/** Keys that work anywhere on a page: single keys and pairs such as `g f`. */
import { useEffect, useRef } from 'preact/hooks';

export type KeyTable = Readonly<Record<string, () => void>>;

/** How long the first key of a pair waits for the second. */
const PAIR_MS = 1200;

export function isTyping(target: EventTarget | null): boolean {
  return target instanceof HTMLElement && /^(INPUT|SELECT|TEXTAREA)$/.test(target.tagName);
}

/** Listens while the caller is drawn; the newest table counts. Keys with Ctrl, Alt or Meta belong to the browser. */
export function useKeys(table: KeyTable): void {
  const newest = useRef(table);
  newest.current = table;
  useEffect(() => {
    let first = '';
    let firstAt = 0;
    const onKey = (event: KeyboardEvent) => {
      if (event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented || isTyping(event.target)) return;
      if (document.querySelector('dialog[open]') !== null) return;
      const pair = event.timeStamp - firstAt < PAIR_MS ? `${first} ${event.key}` : '';
      const act = newest.current[pair] ?? newest.current[event.key];
      first = event.key;
      firstAt = event.timeStamp;
      if (act === undefined) return;
      event.preventDefault();
      act();
    };
    document.addEventListener('keydown', onKey);
    return () => document.removeEventListener('keydown', onKey);
  }, []);
}
