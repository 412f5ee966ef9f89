/** The cursor that the charts of one page share: an instant, or none. */
import { type Signal, useSignal } from '@preact/signals';

export type Cursor = Signal<number | null>;

export function useCursor(): Cursor {
  return useSignal<number | null>(null);
}
