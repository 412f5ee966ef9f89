/** Charge and current of every pack over the window of the page. */

import { useMemo } from 'preact/hooks';
import type { SiteAnswer } from '../../../server/contract/site.ts';
import { packPlots, packSeries } from '../../../server/views/event-plots.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { stackedTraces } from '../../../server/views/stacked-traces.ts';
import { ChartHost } from '../../charts/chart-host.tsx';
import type { Cursor } from '../../charts/cursor.ts';
import { useInk } from '../../charts/use-ink.ts';
import { useSeries } from '../../charts/use-series.ts';
import { ChartWaits, FailedPart } from '../../parts/known.tsx';
import type { TimeWindow } from '../../url/view.ts';
import { BOARD } from '../../words.ts';

interface PackChartsProps {
  readonly answer: SiteAnswer;
  readonly saying: Saying;
  readonly cursor: Cursor;
  readonly window: TimeWindow;
  readonly whole: TimeWindow;
  readonly onWindow: (window: TimeWindow | null) => void;
}

const HEIGHT_PX = 300;

export function PackCharts({ answer, saying, window, ...hands }: PackChartsProps) {
  const ink = useInk();
  const { record } = answer;
  const { known, shown } = useSeries(record.site, packSeries(record), window, window.to >= hands.whole.to);
  const chart = useMemo(() => {
    if (shown === null) return null;
    const plots = packPlots(record, shown.series, saying);
    return stackedTraces(plots, window, [], BOARD.onOneAxis(plots.map(({ title }) => title)), saying, ink);
  }, [shown, saying.zone, window.from, window.to, ink]);
  if (record.packs.length === 0) return null;
  if (known.state === 'failed') return <FailedPart fault={known.fault} />;
  if (chart === null) return <ChartWaits heightPx={HEIGHT_PX} />;
  return <ChartHost chart={chart} saying={saying} file={`${record.site}-packs`} window={window} {...hands} />;
}
