/** The readings of a window for a chart, in as many points as its pixels can show. */
import type { SeriesAnswer } from '../../server/contract/series.ts';
import { type Known, useAnswer } from '../api/use-answer.ts';
import { useLast } from '../parts/use-last.ts';
import type { TimeWindow } from '../url/view.ts';

/** Least, mean and greatest of each bucket are drawn, so one bucket a few pixels is all that can be told apart. */
const POINTS = 600;

export interface ShownSeries {
  readonly known: Known<SeriesAnswer>;
  /** The newest that is here; it may still be of the window before. */
  readonly shown: SeriesAnswer | null;
}

/** @param follows whether the window reaches into the present */
export function useSeries(site: string, of: readonly string[], window: TimeWindow, follows: boolean): ShownSeries {
  const known = useAnswer(
    of.length === 0
      ? null
      : {
          route: 'series',
          names: { site },
          query: { of: of.join(','), from: window.from, to: window.to, points: POINTS },
          follows,
        },
  );
  return { known, shown: useLast(known) };
}
