/** The beam: how far the figure that is furthest from what was proven has gone, as an angle. */
import { HOUR_MS } from '../../ingest/vocabulary/time.ts';
import type { FleetRow } from '../contract/read-fleet.ts';
import { figureText, signedText } from './figures.ts';
import { MEASURE_LOOKS } from './measures.ts';
import type { Saying } from './saying.ts';

/** At its limit the beam touches the stop. */
const STOP_DEG = 12;
/** Past it the beam still moves, and never further than this beyond the stop. */
const BEYOND_DEG = 10;
/** A figure older than this says nothing of now. */
export const OLD_FIGURE_MS = 24 * HOUR_MS;

/** r = (now − proven) ÷ limit. @throws RangeError where a figure is no number or the limit is not above 0 */
export function deviationRatio(then: number, now: number, limit: number): number {
  if (!(limit > 0) || !Number.isFinite(then) || !Number.isFinite(now))
    throw new RangeError(`Cannot place a beam: then ${then}, now ${now}, limit ${limit}`);
  return (now - then) / limit;
}

/** Degrees; minus hangs down at the right. |r| ≤ 1: 12° · r; beyond: sign · (12° + 10° · (1 − 1 ÷ |r|)), under 22°. */
export function beamAngle(r: number): number {
  if (!Number.isFinite(r)) throw new RangeError(`Cannot tilt a beam by ${r}`);
  const size = Math.abs(r);
  return size <= 1 ? STOP_DEG * r : Math.sign(r) * (STOP_DEG + BEYOND_DEG * (1 - 1 / size));
}

export type Beam =
  | {
      readonly says: 'deviation';
      readonly r: number;
      readonly angleDeg: number;
      readonly isBeyond: boolean;
      /** '−5.1' */
      readonly figure: string;
      /** 'u2, limit 3.0' */
      readonly of: string;
    }
  | {
      /** No beam, no datum, no stops: only the pivot in outline, and these words. */
      readonly says: 'untold';
      readonly reason: string;
      /** The whole reason, for hover. */
      readonly because: string;
    };

interface Told {
  readonly measure: keyof typeof MEASURE_LOOKS;
  readonly subject: string;
  readonly then: number;
  readonly now: number;
  readonly limit: number;
}

/** The beam of one figure. */
export function beamOfFigure({ measure, subject, then, now, limit }: Told, { words }: Saying): Beam {
  const { factor, decimals } = MEASURE_LOOKS[measure];
  const r = deviationRatio(then, now, limit);
  return {
    says: 'deviation',
    r,
    angleDeg: beamAngle(r),
    isBeyond: Math.abs(r) > 1,
    figure: signedText((now - then) * factor, decimals),
    of: words.beam.limit(subject, figureText(limit * factor, decimals)),
  };
}

/** The beam of a site in the fleet. */
export function beamOfRow(
  row: Pick<FleetRow, 'deviation' | 'because' | 'worst' | 'heardAt' | 'isProven'>,
  saying: Saying,
): Beam {
  const { words, now } = saying;
  const untold = (reason: string): Beam => ({ says: 'untold', reason, because: row.because ?? reason });
  if (row.worst?.kind === 'site_silent') return untold(words.beam.silent);
  if (row.deviation === null) return untold(row.isProven ? words.beam.untold : words.beam.unproven);
  if (row.heardAt === null || now - row.heardAt > OLD_FIGURE_MS) return untold(words.beam.old);
  return beamOfFigure(row.deviation, saying);
}
