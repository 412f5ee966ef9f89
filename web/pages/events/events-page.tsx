/** When was a site without the grid, and did it hold? */

import { useState } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import type { EventsAnswer, ListedEvent } from '../../../server/contract/event.ts';
import {
  clockText,
  energyText,
  figureText,
  lengthText,
  powerText,
  shortDayText,
  withUnit,
} from '../../../server/views/figures.ts';
import { sayEvent } from '../../../server/views/say-event.ts';
import { sayEvents } from '../../../server/views/say-lists.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { FilterBox } from '../../parts/filter-box.tsx';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { matches } from '../../parts/matches.ts';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { When } from '../../parts/time.tsx';
import { useViewportWidth } from '../../parts/use-viewport.ts';
import { clockOf, pathOf, type View } from '../../url/view.ts';
import { BOARD, WORDS } from '../../words.ts';
import '../../styles/events.css';

export type EventsView = View & { readonly page: 'events' };

const PAGE = 100;
const MOST = 500;
const WIDE_FROM_PX = 1000;

interface Row {
  readonly event: ListedEvent;
  readonly saying: Saying;
  readonly sentence: string;
}

function chargeText({ socStartPct, socEndPct }: ListedEvent): string {
  return socStartPct === null && socEndPct === null
    ? withUnit(null, 0, '%')
    : `${withUnit(socStartPct, 0, '')} ${BOARD.to} ${withUnit(socEndPct, 0, '%')}`;
}

/** Two decimals down the column; the unit stands in its head. */
const kilo = (value: number | null): string => figureText(value === null ? null : value / 1000, 2);

const lasted = ({ start, end }: ListedEvent, now: number): string => lengthText((end ?? now) - start);

function WideRow({ row: { event, saying, sentence } }: { row: Row }) {
  const clock = clockOf(useLocation().url);
  return (
    <tr>
      <td class="day second">{shortDayText(event.start, saying.words.locale, saying.zone)}</td>
      <th scope="row">
        <a href={pathOf({ page: 'site', site: event.site }, clock)}>{event.siteName}</a>
      </th>
      <td>
        <When at={event.start} saying={saying} text={clockText(event.start, saying.words.locale, saying.zone)} />
      </td>
      <td class="left words">
        <a href={pathOf({ page: 'event', site: event.site, start: event.start }, clock)}>{sentence}</a>
      </td>
      <td>{lasted(event, saying.now)}</td>
      <td>{kilo(event.energyWh)}</td>
      <td>{kilo(event.peakW)}</td>
      <td>{chargeText(event)}</td>
      <td class="left second">{saying.words.event.occasion[event.occasion]}</td>
    </tr>
  );
}

const HEADS = [
  BOARD.site,
  BOARD.began,
  BOARD.didItHold,
  BOARD.lasted,
  BOARD.deliveredKwh,
  BOARD.peakKw,
  BOARD.chargeFromTo,
  BOARD.saidToBe,
] as const;
const LEFT: readonly string[] = [BOARD.site, BOARD.didItHold, BOARD.saidToBe];

function WideList({ rows }: { rows: readonly Row[] }) {
  return (
    <table class="table events-table">
      <caption class="unseen">{BOARD.eventsCaption}</caption>
      <thead>
        <tr>
          <td />
          {HEADS.map((head) => (
            <th key={head} scope="col" class={LEFT.includes(head) ? 'left' : undefined}>
              {head}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map((row) => (
          <WideRow key={`${row.event.site} ${row.event.start}`} row={row} />
        ))}
      </tbody>
    </table>
  );
}

function NarrowList({ rows }: { rows: readonly Row[] }) {
  const clock = clockOf(useLocation().url);
  return (
    <ul class="events-list">
      {rows.map(({ event, saying, sentence }) => (
        <li key={`${event.site} ${event.start}`} class="entry">
          <span class="mg second">{shortDayText(event.start, saying.words.locale, saying.zone)}</span>
          <p>
            <b>{event.siteName}</b>,{' '}
            <When at={event.start} saying={saying} text={clockText(event.start, saying.words.locale, saying.zone)} />
          </p>
          <a class="say" href={pathOf({ page: 'event', site: event.site, start: event.start }, clock)}>
            {sentence}
          </a>
          <p class="small second">
            {[energyText(event.energyWh), `${BOARD.peakLow} ${powerText(event.peakW)}`, chargeText(event)].join(' · ')}
          </p>
        </li>
      ))}
    </ul>
  );
}

interface BodyProps {
  readonly answer: EventsAnswer;
  readonly view: EventsView;
  readonly saying: Saying;
  readonly onMore: (() => void) | null;
}

function EventsBody({ answer, view, saying, onMore }: BodyProps) {
  const { url, route } = useLocation();
  const clock = clockOf(url);
  const isWide = useViewportWidth() >= WIDE_FROM_PX;
  const all = answer.events.map((event): Row => {
    const own = { words: WORDS, now: saying.now, zone: clock.utc ? 'UTC' : event.zone };
    return { event, saying: own, sentence: sayEvent(event, [], own) };
  });
  const rows = all.filter(({ event, sentence, saying: own }) =>
    matches(
      view.filter ?? '',
      `${event.siteName} ${event.site} ${sentence} ${own.words.event.occasion[event.occasion]} ${shortDayText(event.start, own.words.locale, own.zone)}`,
    ),
  );
  const { site: _site, ...everywhere } = view;
  return (
    <>
      <h1 tabIndex={-1}>{sayEvents(answer, saying)}</h1>
      <div class="between events-under">
        <p class="qualifies say">
          {view.site === undefined ? (
            BOARD.eventsWhat
          ) : (
            <>
              {BOARD.onlyOf(answer.events[0]?.siteName ?? view.site)}{' '}
              <a href={pathOf(everywhere, clock)}>{BOARD.ofAll}</a>
            </>
          )}
        </p>
        <FilterBox
          label={BOARD.filterEvents}
          hint={BOARD.filterEventsHint}
          value={view.filter ?? ''}
          onFilter={(filter) => route(pathOf({ ...view, filter }, clock), true)}
        />
      </div>
      {rows.length === 0 && all.length > 0 ? <p class="notice">{BOARD.noMatch}</p> : null}
      {rows.length === 0 ? null : isWide ? <WideList rows={rows} /> : <NarrowList rows={rows} />}
      {answer.next === null ? null : (
        <p class="notice">
          {BOARD.firstOf(answer.events.length, answer.total)}{' '}
          {onMore === null ? null : (
            <button type="button" onClick={onMore}>
              {BOARD.more}
            </button>
          )}
        </p>
      )}
    </>
  );
}

export function EventsPage({ view }: { view: EventsView }) {
  const [limit, setLimit] = useState(PAGE);
  const query = { limit, ...(view.site ? { site: view.site } : {}), ...(view.group ? { group: view.group } : {}) };
  const known = useAnswer({ route: 'events', names: {}, query });
  const now = useNow(known);
  const saying = useSaying(READERS_ZONE, now);
  return (
    <Frame here="events" title={BOARD.events} zone={null}>
      <WhenKnown of={known}>
        {(answer) => (
          <EventsBody
            answer={answer}
            view={view}
            saying={saying}
            onMore={limit < MOST ? () => setLimit(Math.min(MOST, limit + PAGE)) : null}
          />
        )}
      </WhenKnown>
    </Frame>
  );
}
