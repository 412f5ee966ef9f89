/** The share of one unit: its power against the total, and its share over time. */
import { useMemo } from 'preact/hooks';
import type { ShareAnswer } from '../../../server/contract/figure.ts';
import type { SiteAnswer } from '../../../server/contract/site.ts';
import { sayPresentLine } from '../../../server/views/present-line.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { type ShareAsked, shareOverTime } from '../../../server/views/share-charts.ts';
import { shareScatter } from '../../../server/views/share-scatter.ts';
import { ChartHost } from '../../charts/chart-host.tsx';
import type { Cursor } from '../../charts/cursor.ts';
import { useInk } from '../../charts/use-ink.ts';
import type { TimeWindow } from '../../url/view.ts';

/** The chart of a unit with its proven share and onset; null where no group has it. */
export function shareAsked(
  share: ShareAnswer,
  site: SiteAnswer,
  unit: string,
  mode: 'grid' | 'backup',
): ShareAsked | null {
  const chart = share.charts.find((one) => one.mode === mode && one.ids.includes(unit));
  if (chart === undefined || (chart.baseline === null && chart.days.length === 0)) return null;
  const figure = site.figures.find((one) => one.measure === 'share' && one.subject === unit && one.mode === mode);
  const drift = site.findings.find(
    ({ kind, subject, end }) => kind === 'share_drift' && subject === unit && end === null,
  );
  return {
    chart,
    unit,
    proven: figure?.then ?? null,
    limit: figure?.limit ?? site.record.limits.share_points / 100,
    onset: drift?.start ?? null,
  };
}

export function ShareScatter({ asked, saying, site }: { asked: ShareAsked; saying: Saying; site: string }) {
  const ink = useInk();
  const chart = useMemo(
    () => shareScatter(asked, saying, ink),
    [asked.chart, asked.unit, asked.onset, saying.zone, ink],
  );
  const means = sayPresentLine(asked, saying);
  return (
    <>
      <ChartHost chart={chart} saying={saying} file={`${site}-power-${asked.unit}`} at="inset" />
      {means === '' ? null : <p class="say second">{means}</p>}
    </>
  );
}

interface OverTimeProps {
  readonly asked: ShareAsked;
  readonly saying: Saying;
  readonly site: string;
  readonly cursor: Cursor;
  readonly window: TimeWindow;
  readonly whole: TimeWindow;
  readonly onWindow: (window: TimeWindow | null) => void;
}

export function ShareOverTime({ asked, saying, site, ...hands }: OverTimeProps) {
  const ink = useInk();
  const chart = useMemo(
    () => shareOverTime(asked, saying, ink),
    [asked.chart, asked.unit, asked.proven, asked.onset, saying.zone, ink],
  );
  return <ChartHost chart={chart} saying={saying} file={`${site}-share-${asked.unit}`} {...hands} />;
}
