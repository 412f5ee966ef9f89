/** One row of a list has the keyboard: ↑ ↓ and j k move it, Enter follows its link as any link. */
import { useEffect, useRef, useState } from 'preact/hooks';
import { useKeys } from './use-keys.ts';

export interface RovingRow {
  readonly active: number;
  readonly setActive: (index: number) => void;
}

/**
 * @param count how many rows there are
 * @param list holds the drawn rows; each has a link marked `data-row-link` and, on itself, its place as `data-index`
 * @param bringIntoView draws the row and scrolls to it
 */
export function useRovingRow(
  count: number,
  list: { readonly current: HTMLElement | null },
  bringIntoView: (index: number) => void,
): RovingRow {
  const [active, setActive] = useState(0);
  const isMoving = useRef(false);
  const place = Math.min(active, Math.max(0, count - 1));
  const move = (by: number) => {
    if (count === 0) return;
    const isInside = list.current?.contains(document.activeElement) ?? false;
    const next = isInside ? Math.min(Math.max(place + by, 0), count - 1) : place;
    isMoving.current = true;
    setActive(next);
    bringIntoView(next);
    if (next === place) focusRow(list.current, next);
  };
  useEffect(() => {
    if (!isMoving.current) return;
    isMoving.current = false;
    // The row may be drawn one frame after it was scrolled to.
    if (!focusRow(list.current, place)) requestAnimationFrame(() => focusRow(list.current, place));
  }, [place]);
  useKeys({
    j: () => move(1),
    k: () => move(-1),
    ArrowDown: () => move(1),
    ArrowUp: () => move(-1),
  });
  return { active: place, setActive };
}

function focusRow(list: HTMLElement | null, index: number): boolean {
  const link = list?.querySelector<HTMLElement>(`[data-index="${index}"] [data-row-link]`);
  link?.focus();
  return link !== null && link !== undefined;
}
