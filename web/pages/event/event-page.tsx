/** Did it hold, and how close was it? */

import { useState } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import type { EventAnswer } from '../../../server/contract/event.ts';
import { eventKey } from '../../../server/contract/paths.ts';
import { eventMargins, type Margin } from '../../../server/views/event-margins.ts';
import { dayText, secondText, weekdayText } from '../../../server/views/figures.ts';
import { eventLog, sayEvent, sayMark } from '../../../server/views/say-event.ts';
import { sayFinding } from '../../../server/views/say-finding.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { BeamMark } from '../../parts/beam.tsx';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { clockOf, pathOf, type View } from '../../url/view.ts';
import { BOARD } from '../../words.ts';
import '../../styles/chart.css';
import { EventCharts } from './event-chart.tsx';
import { MarkSheet } from './mark-sheet.tsx';

export type EventView = View & { readonly page: 'event' };

function Margins({ margins, asked }: { margins: readonly Margin[]; asked: boolean }) {
  return (
    <dl class="figures">
      {margins.map(({ id, label, figure, note, r, angleDeg, isBeyond }) => (
        <div key={id}>
          <dt>{label}</dt>
          <dd class={isBeyond && asked ? 'value act' : 'value'}>
            {r === null || angleDeg === null ? null : (
              <BeamMark beam={{ says: 'deviation', r, angleDeg, isBeyond, figure, of: note }} asked={asked} />
            )}
            <span>{figure}</span>
          </dd>
          <dd class="note">{note}</dd>
        </div>
      ))}
    </dl>
  );
}

function Crumb({ answer, saying }: { answer: EventAnswer; saying: Saying }) {
  const clock = clockOf(useLocation().url);
  const { event, record, before, after } = answer;
  const { locale } = saying.words;
  const toEvent = (start: number) => pathOf({ page: 'event', site: event.site, start }, clock);
  return (
    <div class="crumb between">
      <p>
        <a href={pathOf({ page: 'site', site: event.site }, clock)}>{record.name}</a>,{' '}
        {weekdayText(event.start, locale, saying.zone)} {dayText(event.start, locale, saying.zone, 0)}
      </p>
      <p class="tools">
        {before === null ? null : <a href={toEvent(before)}>{BOARD.eventBefore}</a>}
        {after === null ? null : <a href={toEvent(after)}>{BOARD.eventAfter}</a>}
      </p>
    </div>
  );
}

/** What a person said it was, and the way to say so. */
function Occasion({ answer, saying }: { answer: EventAnswer; saying: Saying }) {
  const [isOpen, setOpen] = useState(false);
  const mark = sayMark(answer.event, saying);
  return (
    <p class="qualifies">
      {mark === null ? BOARD.notMarked : `${saying.words.sentence(mark)}.`}{' '}
      <button type="button" class="quiet" onClick={() => setOpen(true)}>
        {mark === null ? BOARD.mark : BOARD.markAgain}
      </button>
      {isOpen ? <MarkSheet event={answer.event} onClose={() => setOpen(false)} /> : null}
    </p>
  );
}

function EventBody({ answer, saying, view }: { answer: EventAnswer; saying: Saying; view: EventView }) {
  const clock = clockOf(useLocation().url);
  const { event, findings } = answer;
  const asked = findings.some(({ end, severity }) => end === null && (severity === 'urgent' || severity === 'soon'));
  return (
    <>
      <Crumb answer={answer} saying={saying} />
      <h1 tabIndex={-1}>{sayEvent(event, findings, saying)}</h1>
      <Occasion answer={answer} saying={saying} />
      <Margins margins={eventMargins(answer, saying)} asked={asked} />
      <EventCharts answer={answer} saying={saying} window={view.window} />
      <h2>{BOARD.log}</h2>
      <ol class="log">
        {eventLog(answer, saying).map(({ t, text }, line) => (
          <li key={line} class="in">
            <time class="mg second" dateTime={new Date(t).toISOString()}>
              {secondText(t, saying.words.locale, saying.zone)}
            </time>
            {text}
          </li>
        ))}
      </ol>
      {findings.length === 0 ? null : (
        <>
          <h2>{BOARD.findingsOfEvent}</h2>
          <ul class="log">
            {findings.map((finding) => (
              <li key={finding.id} class="in">
                <a href={pathOf({ page: 'finding', id: finding.id }, clock)}>{sayFinding(finding, saying)}</a>
              </li>
            ))}
          </ul>
        </>
      )}
      <p class="foot">{BOARD.eventFoot}</p>
    </>
  );
}

export function EventPage({ view }: { view: EventView }) {
  const known = useAnswer({ route: 'event', names: { site: view.site, start: eventKey(view.start) } });
  const here = known.state === 'here' ? known.data : null;
  const now = useNow(known);
  const saying = useSaying(here?.record.timezone ?? READERS_ZONE, now);
  return (
    <Frame here="events" title={here?.record.name ?? BOARD.events} zone={here?.record.timezone ?? null}>
      <WhenKnown of={known}>{(answer) => <EventBody answer={answer} saying={saying} view={view} />}</WhenKnown>
    </Frame>
  );
}
