/** Charge of every pack on one short axis, 0 to 100 %, the reserve as the shaded end. Its figure stands beside it. */
import type { FleetRow } from '../../server/contract/read-fleet.ts';

const HEIGHT = 26;
const AXIS_Y = 13;

interface ChargeAxisProps {
  readonly row: Pick<FleetRow, 'chargePct' | 'reservePct'>;
  readonly width: number;
  /** Figures too old to be called now: dashed, in the third ink. */
  readonly isOld: boolean;
}

export function ChargeAxis({ row: { chargePct, reservePct }, width, isOld }: ChargeAxisProps) {
  const x = (pct: number) => ((pct / 100) * width).toFixed(1);
  return (
    <svg class="charge" width={width} height={HEIGHT} aria-hidden="true">
      {reservePct === null ? null : <rect y={AXIS_Y - 7} width={x(reservePct)} height="14" fill="var(--beyond)" />}
      <path
        d={`M0 ${AXIS_Y}H${width}M.5 ${AXIS_Y - 3}v6M${width - 0.5} ${AXIS_Y - 3}v6`}
        stroke="var(--ink-2)"
        fill="none"
      />
      {chargePct.map((pct, pack) =>
        pct === null ? null : (
          <path
            key={pack}
            d={`M${x(pct)} ${AXIS_Y - 7}v14`}
            stroke={isOld ? 'var(--ink-3)' : 'var(--ink)'}
            stroke-width={isOld ? 1 : 1.6}
            stroke-dasharray={isOld ? '2 2' : undefined}
          />
        ),
      )}
    </svg>
  );
}
