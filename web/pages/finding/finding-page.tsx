/** What changed, since when, why, and on which figures does that rest? */

import { useLocation } from 'preact-iso';
import { CAUSES } from '../../../ingest/vocabulary/finding.ts';
import type { FindingAnswer } from '../../../server/contract/site.ts';
import { evidenceRows } from '../../../server/views/evidence-rows.ts';
import { sayEvent } from '../../../server/views/say-event.ts';
import { findingFacts, nameFinding, sayFinding } from '../../../server/views/say-finding.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { settingName } from '../../../server/views/setting-name.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { causeLines } from '../../parts/cause-lines.ts';
import { Causes } from '../../parts/causes.tsx';
import { markOf } from '../../parts/finding-list.tsx';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { sayChange } from '../../parts/say-change.ts';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { StateShape } from '../../parts/state-mark.tsx';
import { Table } from '../../parts/table.tsx';
import { When } from '../../parts/time.tsx';
import { clockOf, pathOf, type View } from '../../url/view.ts';
import { BOARD } from '../../words.ts';
import { FindingCharts } from './finding-charts.tsx';
import '../../styles/chart.css';
import '../../styles/finding.css';

export type FindingView = View & { readonly page: 'finding' };

interface BodyProps {
  readonly answer: FindingAnswer;
  readonly saying: Saying;
  readonly view: FindingView;
}

/** Now, then and the limit, and when it began and was first seen. */
function Figures({ answer, saying }: Omit<BodyProps, 'view'>) {
  const { finding } = answer;
  const { value, baseline, limit, length } = findingFacts(finding, saying);
  const mark = markOf(finding, saying);
  const told = [
    {
      name: finding.end === null ? BOARD.nowFigure : BOARD.thenFigure,
      text: value,
      note: settingName(finding.measure),
    },
    { name: BOARD.provenFigure, text: baseline, note: '' },
    { name: BOARD.limitFigure, text: limit, note: '' },
  ].filter(({ text }) => text !== null);
  return (
    <dl class="figures">
      {told.map(({ name, text, note }, place) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd class={mark.asked && place === 0 ? 'value act' : 'value'}>{text}</dd>
          <dd class="note">{note}</dd>
        </div>
      ))}
      <div>
        <dt>{BOARD.began}</dt>
        <dd class="value when-value">
          <When at={finding.start} saying={saying} />
        </dd>
        <dd class="note">
          {BOARD.firstSeen} <When at={finding.detectedAt} saying={saying} />
        </dd>
      </div>
      {finding.end === null ? null : (
        <div>
          <dt>{BOARD.endedFigure}</dt>
          <dd class="value when-value">
            <When at={finding.end} saying={saying} />
          </dd>
          <dd class="note">{length}</dd>
        </div>
      )}
    </dl>
  );
}

function Touching({ answer, saying }: Omit<BodyProps, 'view'>) {
  const clock = clockOf(useLocation().url);
  const { events, settingChanges } = answer;
  return (
    <>
      {events.length === 0 ? null : (
        <>
          <h2>{BOARD.eventsThen}</h2>
          <ul class="log">
            {events.map((event) => (
              <li key={event.start}>
                <a href={pathOf({ page: 'event', site: event.site, start: event.start }, clock)}>
                  <When at={event.start} saying={saying} />: {sayEvent(event, [], saying)}
                </a>
              </li>
            ))}
          </ul>
        </>
      )}
      <h2>{BOARD.settingsThen}</h2>
      {settingChanges.length === 0 ? (
        <p class="notice">{BOARD.noChangeThen}</p>
      ) : (
        <ul class="log">
          {settingChanges.map((change) => (
            <li key={`${change.unit} ${change.key} ${change.t}`}>
              <When at={change.t} saying={saying} />: {sayChange(change)}
            </li>
          ))}
        </ul>
      )}
    </>
  );
}

function FindingBody({ answer, saying, view }: BodyProps) {
  const clock = clockOf(useLocation().url);
  const { finding, record } = answer;
  const mark = markOf(finding, saying);
  const causes = causeLines(finding, saying);
  return (
    <>
      <p class="crumb">
        <a href={pathOf({ page: 'site', site: record.site }, clock)}>{record.name}</a>,{' '}
        <span class={mark.asked ? 'finding-state act' : 'finding-state'}>
          <StateShape shape={mark.shape} size={12} /> {mark.word}
        </span>
      </p>
      <h1 tabIndex={-1}>{sayFinding(finding, saying)}</h1>
      <Figures answer={answer} saying={saying} />
      <FindingCharts answer={answer} saying={saying} window={view.window} />
      <div class="finding-two">
        <div>
          {finding.kind in CAUSES ? (
            <>
              <h2>{BOARD.causes}</h2>
              {causes.length === 0 ? <p class="notice">{BOARD.noCauses}</p> : <Causes causes={causes} />}
            </>
          ) : null}
          <Touching answer={answer} saying={saying} />
        </div>
        <div>
          <h2>{BOARD.restsOn}</h2>
          <Table
            caption={BOARD.restsOnCaption}
            isCaptionUnseen
            columns={[{ head: BOARD.figure }, { head: BOARD.value }]}
            rows={evidenceRows(finding, saying).map(({ label, text }) => [label, text])}
          />
        </div>
      </div>
    </>
  );
}

export function FindingPage({ view }: { view: FindingView }) {
  const known = useAnswer({ route: 'finding', names: { id: view.id } });
  const here = known.state === 'here' ? known.data : null;
  const now = useNow(known);
  const saying = useSaying(here?.record.timezone ?? READERS_ZONE, now);
  const title = here === null ? BOARD.finding : `${here.record.name}, ${nameFinding(here.finding, saying)}`;
  return (
    <Frame here="alerts" title={title} zone={here?.record.timezone ?? null}>
      <WhenKnown of={known}>{(answer) => <FindingBody answer={answer} saying={saying} view={view} />}</WhenKnown>
    </Frame>
  );
}
