/** Then, now, limit: one row a proven figure, the furthest first. */
import type { ApiFigure } from '../contract/figure.ts';
import { type Beam, beamOfFigure, OLD_FIGURE_MS } from './beam.ts';
import { figureText } from './figures.ts';
import { MEASURE_LOOKS } from './measures.ts';
import type { Saying } from './saying.ts';

export interface FigureRow {
  readonly figure: ApiFigure;
  /** 'u2, share of output' */
  readonly label: string;
  /** Then: '49.1' */
  readonly proven: string;
  /** '44.0' */
  readonly now: string;
  /** '%' */
  readonly symbol: string;
  /** '± 3.0' */
  readonly limit: string;
  readonly beam: Beam;
  readonly isBeyond: boolean;
}

const isTold = (figure: ApiFigure): figure is ApiFigure & { readonly then: number; readonly now: number } =>
  figure.then !== null && figure.now !== null;

function beamOf(figure: ApiFigure, saying: Saying): Beam {
  const { words, now } = saying;
  const because = figure.because ?? words.site.notYet;
  if (figure.then === null) return { says: 'untold', reason: words.beam.unproven, because };
  if (!isTold(figure)) return { says: 'untold', reason: because, because };
  if (!(figure.limit > 0)) return { says: 'untold', reason: words.beam.untold, because };
  if (figure.nowAt !== null && now - figure.nowAt > OLD_FIGURE_MS)
    return { says: 'untold', reason: words.beam.old, because };
  return beamOfFigure(figure, saying);
}

const ratio = ({ beam }: FigureRow): number => (beam.says === 'deviation' ? Math.abs(beam.r) : -1);

export function figureRows(figures: readonly ApiFigure[], saying: Saying): FigureRow[] {
  return figures
    .map((figure) => {
      const { factor, decimals, symbol } = MEASURE_LOOKS[figure.measure];
      const shown = (value: number | null): string => figureText(value === null ? null : value * factor, decimals);
      const beam = beamOf(figure, saying);
      return {
        figure,
        label: saying.words.measure[figure.measure](figure.subject, figure.mode),
        proven: shown(figure.then),
        now: shown(figure.now),
        symbol: figure.then === null && figure.now === null ? '' : symbol,
        limit: `± ${shown(figure.limit)}`,
        beam,
        isBeyond: beam.says === 'deviation' && beam.isBeyond,
      };
    })
    .sort((a, b) => ratio(b) - ratio(a));
}
