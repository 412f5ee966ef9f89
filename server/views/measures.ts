/** How each proven measure is shown: factor from its stored unit, decimals, symbols. */
import type { Measure } from '../../ingest/vocabulary/figure.ts';

export interface MeasureLook {
  /** Shown figure = stored figure × factor. */
  readonly factor: number;
  readonly decimals: number;
  /** Unit of the figure itself. */
  readonly symbol: string;
}

export const MEASURE_LOOKS: Readonly<Record<Measure, MeasureLook>> = {
  share: { factor: 100, decimals: 1, symbol: '%' },
  charge_apart: { factor: 1, decimals: 1, symbol: 'points' },
};
