/** Which sites need somebody, and why? */

import type { RefObject } from 'preact';
import { useMemo, useRef } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import { DAY_MS } from '../../../ingest/vocabulary/time.ts';
import { type Fleet, readFleet } from '../../../server/contract/read-fleet.ts';
import { shortDayText } from '../../../server/views/figures.ts';
import { RIBBON_DAYS } from '../../../server/views/ribbon.ts';
import { sayFleet, sayFleetTally } from '../../../server/views/say-fleet.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { Announce } from '../../parts/announce.tsx';
import { FilterBox } from '../../parts/filter-box.tsx';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { unlessSame } from '../../parts/unless-same.tsx';
import { useRovingRow } from '../../parts/use-roving-row.ts';
import { useViewportWidth } from '../../parts/use-viewport.ts';
import { useVirtualRows } from '../../parts/use-virtual-rows.ts';
import { weekLines } from '../../parts/week-lines.ts';
import { clockOf, pathOf, type View } from '../../url/view.ts';
import { BOARD, WORDS } from '../../words.ts';
import { arrangeRows, filterRows, groupsOf, type ShownRow, sectionHeads } from './arrange.ts';
import { FleetCells, FleetEntry, type RowProps } from './fleet-row.tsx';

export type FleetView = View & { readonly page: 'fleet' };

const ASK = { route: 'fleet', names: {} } as const;
/** Below it the table is a list of entries. */
const WIDE_FROM_PX = 1180;
/** From here on extra width goes to the ribbon, up to 16 px a day, then to the sentence. */
const ROOMY_FROM_PX = 1440;
const TIGHT_BELOW_PX = 1380;
const RIBBON_PX = { tight: 170, least: 210, most: 480 } as const;

function ribbonWidth(width: number): number {
  if (width <= TIGHT_BELOW_PX) return RIBBON_PX.tight;
  return Math.min(RIBBON_PX.most, RIBBON_PX.least + Math.max(0, width - ROOMY_FROM_PX));
}
const HEAD_PX = 44;
const ROW_PX = { wide: 47, level: 35, entry: 148, levelEntry: 45, section: 46 } as const;

interface ListProps {
  readonly rows: readonly ShownRow[];
  readonly fleet: Fleet;
  readonly saying: Saying;
}

interface RowsProps {
  readonly rows: readonly ShownRow[];
  readonly from: number;
  readonly ribbonPx: number;
  readonly isWide: boolean;
}

// Scrolling moves rows; it does not draw them again.
const WideRow = unlessSame<RowProps>(FleetCells);
const NarrowRow = unlessSame<RowProps>(FleetEntry);

/** The rows that are in view, one of them with the keyboard. */
function Rows({ rows, from, ribbonPx, isWide }: RowsProps) {
  const list = useRef<HTMLDivElement>(null);
  const heads = useMemo(() => (isWide ? null : sectionHeads(rows)), [rows, isWide]);
  const virtual = useVirtualRows(list, {
    count: rows.length,
    heightOf: (index) => {
      const isLevel = rows[index]?.state === 'level';
      if (isWide) return isLevel ? ROW_PX.level : ROW_PX.wide;
      return (isLevel ? ROW_PX.levelEntry : ROW_PX.entry) + (heads?.has(index) ? ROW_PX.section : 0);
    },
    headPx: isWide ? HEAD_PX : 0,
    layout: `${isWide} ${ribbonPx}`,
  });
  const { active, setActive } = useRovingRow(rows.length, list, virtual.isAll ? () => {} : virtual.scrollTo);
  const Row = isWide ? WideRow : NarrowRow;
  const draw = (index: number, topPx: number | null) => {
    const shown = rows[index];
    if (shown === undefined) return null;
    const head = heads?.get(index);
    const kind = `${shown.state === 'level' ? 'level ' : ''}${index === active ? 'active ' : ''}`;
    return (
      <div
        key={shown.row.site}
        class={`${isWide ? 'fleet-row' : 'entry'} ${kind}`}
        {...(isWide
          ? { role: 'row', 'aria-rowindex': index + 2 }
          : { role: 'listitem', 'aria-setsize': rows.length, 'aria-posinset': index + 1 })}
        data-index={index}
        ref={topPx === null ? null : virtual.measure}
        style={topPx === null ? undefined : { position: 'absolute', top: 0, transform: `translateY(${topPx}px)` }}
      >
        <Row
          shown={shown}
          from={from}
          ribbonPx={ribbonPx}
          index={index}
          isActive={index === active}
          onActive={setActive}
          {...(head === undefined ? {} : { head })}
        />
      </div>
    );
  };
  const inPlace = virtual.isAll ? undefined : { position: 'relative' as const, height: `${virtual.heightPx}px` };
  return (
    <div ref={list as RefObject<HTMLDivElement>} role={isWide ? 'rowgroup' : 'list'} class="rows" style={inPlace}>
      {virtual.isAll
        ? rows.map((_, index) => draw(index, null))
        : virtual.items.map(({ index, topPx }) => draw(index, topPx))}
    </div>
  );
}

function WideHead({ fleet, saying, ribbonPx }: { fleet: Fleet; saying: Saying; ribbonPx: number }) {
  return (
    <div role="rowgroup" class="fleet-head">
      <div role="row" aria-rowindex={1} class="fleet-row">
        <div role="columnheader">
          <span class="unseen">{BOARD.state}</span>
        </div>
        <div role="columnheader">{BOARD.site}</div>
        <div role="columnheader" class="two">
          {BOARD.deviation}
        </div>
        <div role="columnheader">{BOARD.needs}</div>
        <div role="columnheader" class="days">
          <span class="unseen">{BOARD.thirtyDays}</span>
          <svg width={ribbonPx} height="16" aria-hidden="true">
            {weekLines(fleet.from, fleet.from + RIBBON_DAYS * DAY_MS, ribbonPx).map(({ at, x }) => (
              <text key={at} x={x} y="12" text-anchor="middle">
                {shortDayText(at, saying.words.locale, 'UTC')}
              </text>
            ))}
          </svg>
        </div>
        <div role="columnheader">{BOARD.held}</div>
        <div role="columnheader" class="two">
          {BOARD.charge}
        </div>
        <div role="columnheader" class="heard">
          {BOARD.heard}
        </div>
      </div>
    </div>
  );
}

/** The hairlines of the Mondays, as the ground of every ribbon cell. */
function mondays(fleet: Fleet, ribbonPx: number): Record<string, string> {
  const lines = weekLines(fleet.from, fleet.from + RIBBON_DAYS * DAY_MS, ribbonPx);
  return {
    '--weeks': lines.map(() => 'linear-gradient(var(--rule), var(--rule))').join(','),
    '--weeks-at': lines.map(({ x }) => `${x}px 0`).join(','),
    '--ribbon': `${ribbonPx}px`,
  };
}

function FleetList({ rows, fleet, saying }: ListProps) {
  const width = useViewportWidth();
  const isWide = width >= WIDE_FROM_PX;
  const ribbonPx = ribbonWidth(width);
  const drawn = <Rows rows={rows} from={fleet.from} ribbonPx={ribbonPx} isWide={isWide} />;
  if (!isWide) return <div class="fleet-list">{drawn}</div>;
  return (
    <div
      class="fleet-table"
      role="table"
      aria-label={BOARD.fleet}
      aria-rowcount={rows.length + 1}
      style={mondays(fleet, ribbonPx)}
    >
      <WideHead fleet={fleet} saying={saying} ribbonPx={ribbonPx} />
      {drawn}
    </div>
  );
}

function FleetBody({ fleet, now, view }: { fleet: Fleet; now: number; view: FleetView }) {
  const { url, route } = useLocation();
  const clock = clockOf(url);
  const saying = useSaying(READERS_ZONE, now);
  const { filter = '', group = '' } = view;
  const arranged = useMemo(
    () => arrangeRows(fleet, (zone) => ({ words: WORDS, now, zone: clock.utc ? 'UTC' : zone })),
    [fleet, now, clock.utc],
  );
  const groups = useMemo(() => groupsOf(fleet, WORDS.locale), [fleet]);
  const rows = useMemo(() => filterRows(arranged, filter, group), [arranged, filter, group]);
  const show = (next: { filter?: string; group?: string }) =>
    route(pathOf({ page: 'fleet', filter, group, ...next }, clock), true);
  const answer = sayFleet(fleet, saying);
  return (
    <>
      <h1 tabIndex={-1}>{answer}</h1>
      <Announce text={answer} />
      <div class="between fleet-under">
        <p class="say">{sayFleetTally(fleet, saying)}</p>
        <div class="tools">
          {groups.length < 2 ? null : (
            <label class="filter">
              <span>{BOARD.group}</span>
              <select
                aria-label={BOARD.group}
                value={group}
                onChange={(event) => show({ group: event.currentTarget.value })}
              >
                <option value="">{BOARD.allGroups}</option>
                {groups.map((one) => (
                  <option key={one} value={one}>
                    {one}
                  </option>
                ))}
              </select>
            </label>
          )}
          <FilterBox
            label={BOARD.filterSites}
            hint={BOARD.filterHint}
            value={filter}
            onFilter={(text) => show({ filter: text })}
          />
        </div>
      </div>
      {rows.length === 0 && fleet.rows.length > 0 ? (
        <p class="notice">
          {BOARD.noMatch}{' '}
          <button type="button" class="quiet" onClick={() => show({ filter: '', group: '' })}>
            {BOARD.clearFilter}
          </button>
        </p>
      ) : (
        <FleetList rows={rows} fleet={fleet} saying={saying} />
      )}
      <p class="foot">{BOARD.fleetFoot}</p>
    </>
  );
}

export function FleetPage({ view }: { view: FleetView }) {
  const known = useAnswer(ASK);
  const now = useNow(known);
  const data = known.state === 'here' ? known.data : null;
  const fleet = useMemo(() => (data === null ? null : readFleet(data)), [data]);
  return (
    <Frame here="fleet" title={BOARD.fleet} zone={null}>
      <WhenKnown of={known}>
        {() => (fleet === null ? null : <FleetBody fleet={fleet} now={now} view={view} />)}
      </WhenKnown>
    </Frame>
  );
}
