/** The traces of a backup event on one time axis. */
import { useMemo } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import type { EventAnswer } from '../../../server/contract/event.ts';
import { eventInstants, eventPlots, eventSeries } from '../../../server/views/event-plots.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { stackedTraces } from '../../../server/views/stacked-traces.ts';
import { ChartHost } from '../../charts/chart-host.tsx';
import { useInk } from '../../charts/use-ink.ts';
import { useSeries } from '../../charts/use-series.ts';
import { ChartWaits, FailedPart } from '../../parts/known.tsx';
import { PAGE_LABELS } from '../../parts/page-labels.ts';
import { clockOf, pathOf, type TimeWindow } from '../../url/view.ts';

interface EventChartProps {
  readonly answer: EventAnswer;
  readonly saying: Saying;
  /** The part that the address asks for. */
  readonly window: TimeWindow | undefined;
}

const HEIGHT_PX = 700;

export function EventChart({ answer, saying, window: asked }: EventChartProps) {
  const { url, route } = useLocation();
  const ink = useInk();
  const { event, record, window: whole } = answer;
  const window = asked ?? whole;
  const { known, shown } = useSeries(event.site, eventSeries(record), window, event.end === null);
  const chart = useMemo(() => {
    if (shown === null) return null;
    const plots = eventPlots(answer, shown.series, saying);
    const label = PAGE_LABELS.onOneAxis(plots.map(({ title }) => title));
    return stackedTraces(plots, window, eventInstants(answer, saying), label, saying, ink);
  }, [shown, answer, saying.zone, window.from, window.to, ink]);
  if (known.state === 'failed') return <FailedPart fault={known.fault} />;
  if (chart === null) return <ChartWaits heightPx={HEIGHT_PX} />;
  const view = { page: 'event', site: event.site, start: event.start } as const;
  return (
    <ChartHost
      chart={chart}
      saying={saying}
      file={`${event.site}-event`}
      whole={whole}
      onWindow={(next) => route(pathOf(next === null ? view : { ...view, window: next }, clockOf(url)), true)}
    />
  );
}
