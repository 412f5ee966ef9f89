/** The chart that convinces: which one depends on the kind of finding. */

import { useMemo } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import type { FindingKind } from '../../../ingest/vocabulary/finding.ts';
import type { FindingAnswer } from '../../../server/contract/site.ts';
import { eventPlots, eventSeries, packPlots, packSeries } from '../../../server/views/event-plots.ts';
import { sayPresentLine } from '../../../server/views/present-line.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { type ShareAsked, shareOverTime, shareStatistic } from '../../../server/views/share-charts.ts';
import { shareScatter } from '../../../server/views/share-scatter.ts';
import { stackedTraces } from '../../../server/views/stacked-traces.ts';
import { sayTime } from '../../../server/views/when.ts';
import { useAnswer } from '../../api/use-answer.ts';
import { ChartHost } from '../../charts/chart-host.tsx';
import { useCursor } from '../../charts/cursor.ts';
import { useInk } from '../../charts/use-ink.ts';
import { useSeries } from '../../charts/use-series.ts';
import { ChartWaits, FailedPart } from '../../parts/known.tsx';
import { clockOf, pathOf, type TimeWindow } from '../../url/view.ts';
import { BOARD } from '../../words.ts';

interface ChartsProps {
  readonly answer: FindingAnswer;
  readonly saying: Saying;
  readonly window: TimeWindow | undefined;
}

const OF_PACKS: ReadonlySet<FindingKind> = new Set<FindingKind>([
  'soc_divergence',
  'pack_not_carrying',
  'cell_spread',
  'pack_capacity_loss',
  'pack_silent',
]);
/** What moves a share: its own charts convince. */
const OF_SHARE: ReadonlySet<FindingKind> = new Set<FindingKind>(['share_drift', 'settings_mismatch']);
const TRACES_PX = 420;

function useWindow({ answer, window: asked }: ChartsProps) {
  const { url, route } = useLocation();
  const { window: whole, finding } = answer;
  const onWindow = (next: TimeWindow | null) =>
    route(pathOf({ page: 'finding', id: finding.id, ...(next === null ? {} : { window: next }) }, clockOf(url)), true);
  return { whole, window: asked ?? whole, onWindow };
}

/** The readings round the finding: of the packs, or of the output and the units. */
function Traces(props: ChartsProps) {
  const { answer, saying } = props;
  const { record, finding } = answer;
  const ink = useInk();
  const hands = useWindow(props);
  const isOfPacks = OF_PACKS.has(finding.kind);
  const { window } = hands;
  const { known, shown } = useSeries(
    record.site,
    isOfPacks ? packSeries(record) : eventSeries(record),
    window,
    finding.end === null,
  );
  const chart = useMemo(() => {
    if (shown === null) return null;
    const plots = isOfPacks ? packPlots(record, shown.series, saying) : eventPlots({ record }, shown.series, saying);
    const instants = [{ t: finding.start, text: saying.words.chart.began }];
    return stackedTraces(plots, window, instants, BOARD.onOneAxis(plots.map(({ title }) => title)), saying, ink);
  }, [shown, saying.zone, window.from, window.to, ink]);
  if (known.state === 'failed') return <FailedPart fault={known.fault} />;
  if (chart === null) return <ChartWaits heightPx={TRACES_PX} />;
  return <ChartHost chart={chart} saying={saying} file={`${record.site}-${finding.kind}`} {...hands} />;
}

/** The unit whose share the finding is about; of settings, the one that is set otherwise. */
function shareOf(answer: FindingAnswer, share: Parameters<typeof useShareAsked>[1]): ShareAsked | null {
  const { finding, figures, record } = answer;
  const unit = finding.subject ?? finding.candidates?.[0] ?? '';
  const mode = finding.evidence.mode === 'backup' ? 'backup' : 'grid';
  const chart = share?.charts.find((one) => one.mode === mode && one.ids.includes(unit));
  if (chart === undefined || chart.days.length === 0) return null;
  const figure = figures.find((one) => one.measure === 'share' && one.subject === unit && one.mode === mode);
  return {
    chart,
    unit,
    proven: figure?.then ?? (finding.kind === 'share_drift' ? finding.baseline : null),
    limit: figure?.limit ?? record.limits.share_points / 100,
    onset: finding.start,
  };
}

function useShareAsked(answer: FindingAnswer, share: { readonly charts: readonly ShareAsked['chart'][] } | null) {
  return useMemo(() => shareOf(answer, share), [answer, share]);
}

function ShareCharts({ asked, props }: { asked: ShareAsked; props: ChartsProps }) {
  const { saying, answer } = props;
  const ink = useInk();
  const cursor = useCursor();
  const over = useMemo(() => shareOverTime(asked, saying, ink), [asked, saying.zone, ink]);
  const test = useMemo(() => shareStatistic(asked, saying, ink), [asked, saying.zone, ink]);
  const scatter = useMemo(() => shareScatter(asked, saying, ink), [asked, saying.zone, ink]);
  const file = `${answer.record.site}-${asked.unit}`;
  const isBefore = (asked.chart.recent[0]?.t ?? 0) > answer.finding.detectedAt;
  const testNote = isBefore ? BOARD.testBefore(sayTime(answer.finding.detectedAt, saying)) : BOARD.testWhat;
  return (
    <>
      <ChartHost chart={over} saying={saying} file={`${file}-share`} cursor={cursor} />
      <ChartHost chart={test} saying={saying} file={`${file}-test`} note={testNote} />
      <div class="finding-scatter">
        <ChartHost chart={scatter} saying={saying} file={`${file}-power`} at="inset" />
        <p class="say second">{sayPresentLine(asked, saying)}</p>
      </div>
    </>
  );
}

function Shares(props: ChartsProps) {
  const { answer } = props;
  const share = useAnswer({ route: 'share', names: { site: answer.record.site } });
  const asked = useShareAsked(answer, share.state === 'here' ? share.data : null);
  if (share.state === 'failed') return <FailedPart fault={share.fault} />;
  if (share.state === 'waiting') return <ChartWaits heightPx={TRACES_PX} />;
  return asked === null ? <Traces {...props} /> : <ShareCharts asked={asked} props={props} />;
}

export function FindingCharts(props: ChartsProps) {
  return OF_SHARE.has(props.answer.finding.kind) ? <Shares {...props} /> : <Traces {...props} />;
}
