/** The mark of a site: a beam that hangs by the figure furthest from what was proven. Never alone: its figure stands beside it. */
import type { Beam } from '../../server/views/beam.ts';

/** The box at scale 1, px. */
const WIDTH = 52;
const HEIGHT = 28;
const PIVOT_X = 26;
const PIVOT_Y = 12;
const HALF_LENGTH = 23;
const STOP_RAD = (12 * Math.PI) / 180;
const STOPS = [1, -1]
  .map((side) => {
    const at = (radius: number) =>
      `${(PIVOT_X + radius * Math.cos(STOP_RAD)).toFixed(2)} ${(PIVOT_Y - side * radius * Math.sin(STOP_RAD)).toFixed(2)}`;
    return `M${at(20)}L${at(27)}`;
  })
  .join('');

interface BeamMarkProps {
  readonly beam: Beam;
  readonly scale?: 1 | 2;
  /** It is a request that nobody has answered, so it has colour. */
  readonly asked?: boolean;
}

/** The words beside it say the same, so it is hidden from readers of the page by ear. */
export function BeamMark({ beam, scale = 1, asked = false }: BeamMarkProps) {
  const isTold = beam.says === 'deviation';
  return (
    <svg
      class={isTold && beam.isBeyond && asked ? 'beam act' : 'beam'}
      width={WIDTH * scale}
      height={HEIGHT * scale}
      viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
      aria-hidden="true"
    >
      {isTold ? (
        <>
          <path d={`M1 ${PIVOT_Y}H51`} stroke="var(--rule-2)" stroke-width=".7" />
          <path d={STOPS} stroke="currentColor" stroke-width="1.2" />
        </>
      ) : null}
      <path
        d="M26 13.2l4.2 7h-8.4z"
        fill={isTold ? 'currentColor' : 'none'}
        stroke="currentColor"
        stroke-width={isTold ? 0 : 1}
      />
      {isTold ? (
        <g style={{ transform: `rotate(${-beam.angleDeg}deg)`, transformOrigin: `${PIVOT_X}px ${PIVOT_Y}px` }}>
          <path
            d={`M${PIVOT_X - HALF_LENGTH} ${PIVOT_Y}H${PIVOT_X + HALF_LENGTH}`}
            stroke="currentColor"
            stroke-width={beam.isBeyond ? 3.5 : 2}
          />
        </g>
      ) : null}
    </svg>
  );
}
