/** Is it still as it was proven? What changed, since when? */

import { useLocation } from 'preact-iso';
import type { SiteAnswer } from '../../../server/contract/site.ts';
import { figureRows } from '../../../server/views/figure-rows.ts';
import { sayCauses, sayFinding } from '../../../server/views/say-finding.ts';
import { sayAbout, sayFigures, sayHeadFigure, saySite } from '../../../server/views/say-site.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { compareFindings } from '../../../server/views/severity.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { useNow } from '../../api/use-now.ts';
import { useCursor } from '../../charts/cursor.ts';
import { BeamMark } from '../../parts/beam.tsx';
import { FindingList } from '../../parts/finding-list.tsx';
import { Frame } from '../../parts/frame.tsx';
import { ChartWaits, FailedPart, WhenKnown } from '../../parts/known.tsx';
import { READERS_ZONE, useSaying } from '../../parts/saying.ts';
import { StateShape } from '../../parts/state-mark.tsx';
import { clockOf, pathOf, type TimeWindow, type View } from '../../url/view.ts';
import { BOARD } from '../../words.ts';
import { CoverPart } from './cover.tsx';
import { Explorer } from './explorer.tsx';
import { FiguresTable } from './figures-table.tsx';
import { PackCharts } from './pack-charts.tsx';
import { SettingsTable } from './settings.tsx';
import { ShareOverTime, ShareScatter, shareAsked } from './share-charts.tsx';
import { Timeline } from './timeline.tsx';
import '../../styles/chart.css';
import '../../styles/site.css';

export type SiteView = View & { readonly page: 'site' };

interface BodyProps {
  readonly answer: SiteAnswer;
  readonly saying: Saying;
  readonly view: SiteView;
}

/** The worst open finding that asks for somebody; null where none does. */
function requestOf({ findings }: SiteAnswer) {
  return (
    [...findings]
      .sort(compareFindings)
      .find(({ end, severity }) => end === null && (severity === 'urgent' || severity === 'soon')) ?? null
  );
}

function Head({ answer, saying }: Omit<BodyProps, 'view'>) {
  const clock = clockOf(useLocation().url);
  const first = figureRows(answer.figures, saying)[0];
  const request = requestOf(answer);
  const asked = request !== null;
  return (
    <div class="site-head">
      <div class={first?.isBeyond && asked ? 'hung act' : 'hung'}>
        {first === undefined ? null : <BeamMark beam={first.beam} scale={2} asked={asked} />}
        <b>{sayHeadFigure(answer, saying) ?? (first?.beam.says === 'untold' ? first.beam.reason : null)}</b>
      </div>
      <div>
        <p class="second">{sayAbout(answer, saying)}</p>
        <h1 tabIndex={-1}>{saySite(answer, saying)}</h1>
        <p class="qualifies">
          {sayFigures(answer, saying)}{' '}
          <a href={pathOf({ page: 'trust', site: answer.record.site }, clock)}>{BOARD.aboutData}</a>
        </p>
      </div>
      {request === null ? null : (
        <p class="asked act">
          <StateShape shape={request.severity === 'urgent' ? 'urgent' : 'soon'} />{' '}
          {saying.words.severity[request.severity]}
        </p>
      )}
    </div>
  );
}

/** The unit that the share charts show: asked for, else the one that is furthest off. */
function unitOf({ answer, saying, view }: BodyProps): string | null {
  const ids = answer.record.units.map(({ id }) => id);
  if (view.unit !== undefined && ids.includes(view.unit)) return view.unit;
  const furthest = figureRows(answer.figures, saying).find(({ figure }) => figure.measure === 'share');
  return furthest?.figure.subject ?? ids[0] ?? null;
}

function Shares(props: BodyProps & { unit: string; hands: Hands }) {
  const { answer, saying, view, unit, hands } = props;
  const { url, route } = useLocation();
  const { site, units } = answer.record;
  const share = useAnswer({ route: 'share', names: { site } });
  const asked = share.state === 'here' ? shareAsked(share.data, answer, unit, 'grid') : null;
  const rows = figureRows(answer.figures, saying);
  const drift = answer.findings.find(
    ({ kind, subject, end }) => kind === 'share_drift' && subject === unit && end === null,
  );
  return (
    <>
      <div class="site-two">
        <div>
          <FiguresTable rows={rows} asked={requestOf(answer) !== null} />
        </div>
        <div>
          <p class="units" role="group" aria-label={BOARD.whichUnit}>
            {units.map(({ id }) => (
              <button
                key={id}
                type="button"
                aria-pressed={id === unit}
                onClick={() => route(pathOf({ ...view, unit: id }, clockOf(url)), true)}
              >
                {id}
              </button>
            ))}
          </p>
          {share.state === 'failed' ? <FailedPart fault={share.fault} /> : null}
          {share.state === 'waiting' ? <ChartWaits heightPx={320} /> : null}
          {asked === null ? null : <ShareScatter asked={asked} saying={saying} site={site} />}
          {asked === null && share.state === 'here' ? <p class="notice">{BOARD.noShare(unit)}</p> : null}
        </div>
      </div>
      {drift === undefined ? null : (
        <p class="means">
          {drift === requestOf(answer)
            ? `${saying.words.sentence(BOARD.causesLow)}: ${saying.words.list(sayCauses(drift, saying), 'or')}.`
            : sayFinding(drift, saying)}{' '}
          <a href={pathOf({ page: 'finding', id: drift.id }, clockOf(url))}>{BOARD.restsOn}</a>
        </p>
      )}
      {asked === null ? null : <ShareOverTime asked={asked} saying={saying} site={site} {...hands} />}
    </>
  );
}

interface Hands {
  readonly cursor: ReturnType<typeof useCursor>;
  readonly window: TimeWindow;
  readonly whole: TimeWindow;
  readonly onWindow: (window: TimeWindow | null) => void;
}

function SiteBody(props: BodyProps) {
  const { answer, saying, view } = props;
  const { url, route } = useLocation();
  const cursor = useCursor();
  const unit = unitOf(props);
  const whole = { from: answer.firstAt ?? answer.now - 1, to: answer.now };
  const { window: own, ...rest } = view;
  const window = own ?? whole;
  const show = (next: SiteView) => route(pathOf(next, clockOf(url)), true);
  const hands: Hands = {
    cursor,
    window,
    whole,
    onWindow: (next) => show(next === null ? rest : { ...rest, window: next }),
  };
  if (answer.firstAt === null) {
    return (
      <>
        <Head answer={answer} saying={saying} />
        <p class="notice">{BOARD.nothingStored}</p>
      </>
    );
  }
  return (
    <>
      <Head answer={answer} saying={saying} />
      {unit === null ? null : <Shares {...props} unit={unit} hands={hands} />}
      <PackCharts answer={answer} saying={saying} {...hands} />
      <Timeline answer={answer} saying={saying} window={window} />
      <p class="foot">{BOARD.siteFoot}</p>
      <CoverPart answer={answer} saying={saying} />
      <h2>{BOARD.findings}</h2>
      <FindingList findings={answer.findings} saying={saying} />
      <h2>{BOARD.settings}</h2>
      <SettingsTable answer={answer} saying={saying} />
      <Explorer
        answer={answer}
        saying={saying}
        readings={view.readings ?? []}
        onReadings={(readings) => {
          const { readings: _before, ...others } = view;
          show(readings.length === 0 ? others : { ...others, readings });
        }}
        {...hands}
      />
    </>
  );
}

export function SitePage({ view }: { view: SiteView }) {
  const known = useAnswer({ route: 'site', names: { site: view.site } });
  const here = known.state === 'here' ? known.data : null;
  const now = useNow(known);
  const saying = useSaying(here?.record.timezone ?? READERS_ZONE, now);
  return (
    <Frame here="fleet" title={here?.record.name ?? view.site} zone={here?.record.timezone ?? null}>
      <WhenKnown of={known}>{(answer) => <SiteBody answer={answer} saying={saying} view={view} />}</WhenKnown>
    </Frame>
  );
}
