/** What is to be done next, and on what does it rest? */

import { useRef } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import { DAY_MS } from '../../../ingest/vocabulary/time.ts';
import type { FindingsAnswer, ListedFinding } from '../../../server/contract/finding.ts';
import { evidenceLine } from '../../../server/views/evidence-rows.ts';
import { sayFinding } from '../../../server/views/say-finding.ts';
import { sayAlerts, sayAlertsTally, sayEnded } from '../../../server/views/say-lists.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { Announce } from '../../parts/announce.tsx';
import { causeLines } from '../../parts/cause-lines.ts';
import { Causes } from '../../parts/causes.tsx';
import { FilterBox } from '../../parts/filter-box.tsx';
import { markOf } from '../../parts/finding-list.tsx';
import { Frame } from '../../parts/frame.tsx';
import { WhenKnown } from '../../parts/known.tsx';
import { matches } from '../../parts/matches.ts';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { StateMark } from '../../parts/state-mark.tsx';
import { When } from '../../parts/time.tsx';
import { useRovingRow } from '../../parts/use-roving-row.ts';
import { clockOf, pathOf, type TimeWindow, type View } from '../../url/view.ts';
import { BOARD, WORDS } from '../../words.ts';
import '../../styles/alerts.css';

export type AlertsView = View & { readonly page: 'alerts' };

const MOST = 500;
const SECTIONS = [
  { name: BOARD.cannotWait, what: BOARD.cannotWaitWhat, holds: ['urgent', 'soon'] },
  { name: BOARD.nextVisit, what: BOARD.nextVisitWhat, holds: ['plan'] },
  { name: BOARD.worthKnowing, what: BOARD.worthKnowingWhat, holds: ['info'] },
] as const;

/** A few days round a finding: the readings that show it. */
function windowRound({ start, end }: ListedFinding, now: number): TimeWindow {
  return { from: start - 3 * DAY_MS, to: Math.min(now, (end ?? now) + DAY_MS) };
}

interface AlertProps {
  readonly finding: ListedFinding;
  readonly saying: Saying;
  readonly index: number;
  readonly isActive: boolean;
  readonly onActive: () => void;
}

function Alert({ finding, saying, index, isActive, onActive }: AlertProps) {
  const clock = clockOf(useLocation().url);
  const causes = causeLines(finding, saying);
  const { site, siteName } = finding;
  return (
    <li class="in alert" data-index={index}>
      <span class="mg">
        <StateMark {...markOf(finding, saying)} />
      </span>
      <div>
        <a class="name" href={pathOf({ page: 'site', site }, clock)} tabIndex={isActive ? 0 : -1} onFocus={onActive}>
          {siteName}
        </a>
        <small>
          {BOARD.since} <When at={finding.start} saying={saying} />
        </small>
      </div>
      <div>
        <a
          class="say"
          href={pathOf({ page: 'finding', id: finding.id }, clock)}
          tabIndex={isActive ? 0 : -1}
          data-row-link=""
          onFocus={onActive}
        >
          {sayFinding(finding, saying)}
        </a>
        <p class="evidence">{evidenceLine(finding, saying)}</p>
      </div>
      <div>{causes.length === 0 ? null : <Causes causes={causes} />}</div>
      <a
        class="small second"
        href={pathOf({ page: 'site', site, window: windowRound(finding, saying.now) }, clock)}
        tabIndex={isActive ? 0 : -1}
        onFocus={onActive}
      >
        {BOARD.readingsThen}
      </a>
    </li>
  );
}

function AlertsBody({ answer, view, saying }: { answer: FindingsAnswer; view: AlertsView; saying: Saying }) {
  const { url, route } = useLocation();
  const clock = clockOf(url);
  const list = useRef<HTMLDivElement>(null);
  const sayingOf = ({ zone }: ListedFinding): Saying => ({
    words: WORDS,
    now: saying.now,
    zone: clock.utc ? 'UTC' : zone,
  });
  const isEnded = view.state === 'ended';
  const shown = answer.findings.filter((finding) =>
    matches(
      view.filter ?? '',
      `${finding.siteName} ${finding.site} ${finding.group ?? ''} ${sayFinding(finding, sayingOf(finding))}`,
    ),
  );
  const sections = isEnded
    ? [{ name: BOARD.endedHead, what: '', findings: shown }]
    : SECTIONS.map(({ name, what, holds }) => ({
        name,
        what,
        findings: shown.filter(({ severity }) => (holds as readonly string[]).includes(severity)),
      }));
  const ordered = sections.flatMap(({ findings }) => findings);
  const { active, setActive } = useRovingRow(ordered.length, list, () => {});
  const sentence = isEnded ? sayEnded(answer.total, saying) : sayAlerts(answer.findings, saying);
  const { state: _state, ...others } = view;
  return (
    <>
      <h1 tabIndex={-1}>{sentence}</h1>
      <Announce text={sentence} />
      <div class="between">
        <p class="qualifies say">
          {isEnded ? '' : `${sayAlertsTally(answer.findings, saying)} `}
          <a href={pathOf(isEnded ? others : { ...view, state: 'ended' }, clock)}>
            {isEnded ? BOARD.seeOpen : BOARD.seeEnded}
          </a>
        </p>
        <FilterBox
          label={BOARD.filterAlerts}
          hint={BOARD.filterAlertsHint}
          value={view.filter ?? ''}
          onFilter={(filter) => route(pathOf({ ...view, filter }, clock), true)}
        />
      </div>
      {answer.findings.length > 0 && shown.length === 0 ? <p class="notice">{BOARD.noMatch}</p> : null}
      <div ref={list}>
        {sections.map(({ name, what, findings }) =>
          findings.length === 0 ? null : (
            <section key={name}>
              <h2 class="ruled">
                {name} <span>{what}</span>
              </h2>
              <ul class="alerts">
                {findings.map((finding) => {
                  const index = ordered.indexOf(finding);
                  return (
                    <Alert
                      key={finding.id}
                      finding={finding}
                      saying={sayingOf(finding)}
                      index={index}
                      isActive={index === active}
                      onActive={() => setActive(index)}
                    />
                  );
                })}
              </ul>
            </section>
          ),
        )}
      </div>
      {answer.next === null ? null : <p class="notice">{BOARD.firstOf(answer.findings.length, answer.total)}</p>}
    </>
  );
}

export function AlertsPage({ view }: { view: AlertsView }) {
  const query = { state: view.state ?? ('open' as const), limit: MOST, ...(view.group ? { group: view.group } : {}) };
  const known = useAnswer({ route: 'findings', names: {}, query });
  const now = useNow(known);
  const saying = useSaying(READERS_ZONE, now);
  return (
    <Frame here="alerts" title={BOARD.alerts} zone={null}>
      <WhenKnown of={known}>{(answer) => <AlertsBody answer={answer} view={view} saying={saying} />}</WhenKnown>
    </Frame>
  );
}
