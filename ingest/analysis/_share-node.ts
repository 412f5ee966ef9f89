/** What the voltage of the node says: whether the units make it, and which of two setpoints moved. */
import type { SharingMode } from '../alignment/power-bins.ts';
import type { SharingLaw } from '../site/record.ts';
import type { ShareBaseline, ShareBin } from './_share-baseline.ts';

/** Where the load explains so much of the voltage, the units make it. On the grid it wanders by itself. */
const MADE_BY_UNITS = 0.6;
/** How many times likelier one of the two must be. */
const LIKELIER = Math.log(20);
const BINS_MIN = 4;

/**
 * Whether setpoints play a part in a mode: as the record says, else as the baseline shows. With one law for sources
 * behind their droop, the voltage of the node falls in a straight line with the load.
 */
export function isDroop(baseline: ShareBaseline, mode: SharingMode, law: SharingLaw | null): boolean {
  if (law !== null) return law === 'droop';
  if (mode === 'backup') return true;
  const { node } = baseline;
  return node !== null && node.slope < 0 && node.explained >= MADE_BY_UNITS;
}

/**
 * Of two units of which one carries more and the other less: whose setpoint moved.
 *
 * Two sources E behind R each on one node: E_1 up by e moves e/2R from the second to the first, and the node up by e/2;
 * E_2 down by e moves the same, and the node down by e/2. With R/2 the slope of the node's own line, the two are told
 * apart by its sign. Closed form of domain.md's two sources on one node; equal resistances are assumed.
 *
 * @param falling place of the unit that carries less
 * @returns null where the voltage does not tell
 */
export function movedSetpoint(
  baseline: ShareBaseline,
  falling: number,
  bins: readonly ShareBin[],
): 'falling' | 'rising' | null {
  const { node, lines } = baseline;
  const line = lines[falling]!;
  const known = bins.flatMap(({ totalW, unitW, volts }) =>
    volts === null || node === null
      ? []
      : [
          {
            voltsMoved: volts - node.offsetV - node.slope * totalW,
            lessW: line.offsetW + line.slope * totalW - unitW[falling]!,
          },
        ],
  );
  if (node === null || node.slope >= 0 || node.explained < MADE_BY_UNITS || known.length < BINS_MIN) return null;
  const mean = (value: (one: (typeof known)[number]) => number): number =>
    known.reduce((sum, one) => sum + value(one), 0) / known.length;
  const seenV = mean(({ voltsMoved }) => voltsMoved);
  const expectedV = 2 * Math.abs(node.slope) * mean(({ lessW }) => lessW);
  // Bins of one evening hang together: they count for half.
  const errorV = node.sd * Math.sqrt(2 / known.length);
  const logRatio = (2 * seenV * expectedV) / (errorV * errorV);
  if (logRatio > LIKELIER) return 'rising';
  return logRatio < -LIKELIER ? 'falling' : null;
}
