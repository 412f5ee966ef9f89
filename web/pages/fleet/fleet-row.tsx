/** One site of the fleet: as a row of the wide table, and as an entry of the narrow list. */

import { useLocation } from 'preact-iso';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { type Beam, beamOfRow } from '../../../server/views/beam.ts';
import { sayCharge, sayHeard, sayHeld, sayRatings } from '../../../server/views/say-fleet.ts';
import { isRequest } from '../../../server/views/severity.ts';
import { BeamMark } from '../../parts/beam.tsx';
import { ChargeAxis } from '../../parts/charge-axis.tsx';
import { Ribbon } from '../../parts/ribbon.tsx';
import { StateMark, StateShape } from '../../parts/state-mark.tsx';
import { When } from '../../parts/time.tsx';
import { clockOf, pathOf } from '../../url/view.ts';
import { BOARD } from '../../words.ts';
import type { ShownRow } from './arrange.ts';

export interface RowProps {
  readonly shown: ShownRow;
  readonly from: number;
  readonly ribbonPx: number;
  readonly isActive: boolean;
  readonly index: number;
  readonly onActive: (index: number) => void;
  /** Of a section that begins with this row, in the narrow list. */
  readonly head?: string;
}

const isOld = (at: number | null, now: number): boolean => at === null || now - at > HOUR_MS;

function SiteLink({ shown: { row }, index, isActive, onActive }: RowProps) {
  const { url } = useLocation();
  return (
    <a
      href={pathOf({ page: 'site', site: row.site }, clockOf(url))}
      tabIndex={isActive ? 0 : -1}
      data-row-link=""
      onFocus={() => onActive(index)}
    >
      {row.name}
    </a>
  );
}

function Deviation({ beam }: { beam: Beam }) {
  if (beam.says === 'untold') {
    return (
      <span class="third" title={beam.because}>
        {beam.reason}
      </span>
    );
  }
  return (
    <>
      <b>{beam.figure}</b>
      <small>{beam.of}</small>
    </>
  );
}

function Heard({ shown: { row, saying }, asked }: { shown: ShownRow; asked: boolean }) {
  const text = sayHeard(row, saying);
  const words = row.heardAt === null ? text : <When at={row.heardAt} saying={saying} text={text} />;
  return isOld(row.heardAt, saying.now) ? (
    <b class={asked ? 'age act' : 'age'}>{words}</b>
  ) : (
    <span class="age">{words}</span>
  );
}

/** The cells of a wide row, in the order of the head. */
export function FleetCells(props: RowProps) {
  const { shown, from, ribbonPx } = props;
  const { row, state, sentence, saying } = shown;
  const asked = isRequest(state);
  const beam = beamOfRow(row, saying);
  return (
    <>
      <div role="cell" class={state === 'level' ? 'state third' : 'state'}>
        {state === 'level' ? (
          saying.words.state.level
        ) : (
          <StateMark shape={state} word={saying.words.state[state]} asked={asked} />
        )}
      </div>
      <div role="rowheader" class="name">
        <SiteLink {...props} /> <span>{sayRatings(row.ratingsW)}</span>
      </div>
      <div role="cell" class="deviation">
        <BeamMark beam={beam} asked={asked} />
        <span>
          <Deviation beam={beam} />
        </span>
      </div>
      <div role="cell" class="needs">
        {sentence}
      </div>
      <div role="cell" class="days">
        <Ribbon row={row} from={from} saying={saying} width={ribbonPx} asked={asked} />
      </div>
      <div role="cell" class="held second">
        {sayHeld(row)}
      </div>
      <div role="cell" class="packs">
        <ChargeAxis row={row} width={88} isOld={isOld(row.chargeAt, saying.now)} />
        <span class={isOld(row.chargeAt, saying.now) ? 'third' : undefined}>{sayCharge(row)}</span>
      </div>
      <div role="cell" class="heard second">
        <Heard shown={shown} asked={asked} />
      </div>
    </>
  );
}

const PHONE_RIBBON_PX = 190;

/** The same on a narrow screen. A level site takes one line. */
export function FleetEntry(props: RowProps) {
  const { shown, from, head } = props;
  const { row, state, sentence, saying } = shown;
  const asked = isRequest(state);
  const beam = beamOfRow(row, saying);
  return (
    <>
      {head === undefined ? null : <h2 class="section">{head}</h2>}
      <div class="body">
        <span class={asked ? 'mg act' : 'mg'}>
          {state === 'level' ? null : <StateShape shape={state} />}
          <span class="unseen">{saying.words.state[state]}</span>
        </span>
        <div class="first">
          <SiteLink {...props} />
          <BeamMark beam={beam} asked={asked} />
          <span class="figure">
            {beam.says === 'deviation' ? beam.figure : <span class="third small">{beam.reason}</span>}
          </span>
        </div>
        {sentence === '' ? null : <p class="say">{sentence}</p>}
        {state === 'level' ? null : (
          <>
            <div class="strip">
              <Ribbon row={row} from={from} saying={saying} width={PHONE_RIBBON_PX} asked={asked} />
              <span class="packs">
                <ChargeAxis row={row} width={60} isOld={isOld(row.chargeAt, saying.now)} /> {sayCharge(row)}
              </span>
            </div>
            <div class="strip small second">
              <span>{sayRatings(row.ratingsW)}</span>
              <span>
                {BOARD.heardLow} <Heard shown={shown} asked={asked} /> {row.heardAt === null ? '' : BOARD.ago}
              </span>
            </div>
          </>
        )}
      </div>
    </>
  );
}
