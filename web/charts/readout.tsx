/** The figures under the cursor, in a line below the plots. */
import { fullTimeText } from '../../server/views/figures.ts';
import type { Saying } from '../../server/views/saying.ts';
import type { linesOf } from './readout-lines.ts';
import { type ReadoutLine, readout } from './readout-lines.ts';

interface ReadoutProps {
  readonly lines: ReturnType<typeof linesOf>;
  readonly at: number | null;
  readonly farMs: number;
  readonly saying: Saying;
  /** The cursor was moved by key, so its figures are said aloud. */
  readonly isSaid: boolean;
}

export function Readout({ lines, at, farMs, saying, isSaid }: ReadoutProps) {
  const figures: readonly ReadoutLine[] = at === null ? [] : readout(lines, at, farMs);
  return (
    <p class="chart-readout" aria-live={isSaid ? 'polite' : 'off'}>
      {at === null ? null : (
        <>
          <b>{fullTimeText(at, saying.words.locale, saying.zone)}</b>
          {figures.map(({ name, figure }) => (
            <span key={name}>
              {name} <b>{figure}</b>
            </span>
          ))}
        </>
      )}
    </p>
  );
}
