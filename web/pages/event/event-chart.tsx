/** The traces of a backup event on one time axis. */

import { useMemo } from 'preact/hooks';
import { useLocation } from 'preact-iso';
import type { EventAnswer } from '../../../server/contract/event.ts';
import { eventInstants, eventMinutes, eventPlots, eventSeries, eventSpans } from '../../../server/views/event-plots.ts';
import { clockText } from '../../../server/views/figures.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { stackedTraces } from '../../../server/views/stacked-traces.ts';
import { ChartHost } from '../../charts/chart-host.tsx';
import { type Cursor, useCursor } from '../../charts/cursor.ts';
import { useInk } from '../../charts/use-ink.ts';
import { useSeries } from '../../charts/use-series.ts';
import { ChartWaits, FailedPart } from '../../parts/known.tsx';
import { clockOf, pathOf, type TimeWindow } from '../../url/view.ts';
import { BOARD } from '../../words.ts';

interface EventChartProps {
  readonly answer: EventAnswer;
  readonly saying: Saying;
  /** The part that the address asks for. */
  readonly window: TimeWindow | undefined;
}

const HEIGHT_PX = 700;

/** The minutes that matter, every reading of them, over the same plots. */
function Minutes({ answer, saying, cursor }: Omit<EventChartProps, 'window'> & { readonly cursor: Cursor }) {
  const ink = useInk();
  const { event, record } = answer;
  const window = eventMinutes(answer);
  const { known, shown } = useSeries(event.site, eventSeries(record), window, event.end === null);
  const clock = (t: number) => clockText(t, saying.words.locale, saying.zone);
  const stretch = BOARD.minutes(clock(window.from), clock(window.to));
  const chart = useMemo(() => {
    if (shown === null) return null;
    const plots = eventPlots(answer, shown.series, saying);
    return stackedTraces(
      plots,
      window,
      eventInstants(answer, saying),
      `${stretch} ${BOARD.onOneAxis(plots.map(({ title }) => title))}`,
      saying,
      ink,
    );
  }, [shown, answer, saying.zone, window.from, window.to, ink]);
  if (known.state === 'failed') return <FailedPart fault={known.fault} />;
  if (chart === null) return <ChartWaits heightPx={HEIGHT_PX} />;
  return (
    <ChartHost
      chart={chart}
      saying={saying}
      file={`${event.site}-event-minutes`}
      at="inset"
      note={stretch}
      cursor={cursor}
    />
  );
}

/** The whole event, and beside it its minutes that matter. */
export function EventCharts(props: EventChartProps) {
  const cursor = useCursor();
  return (
    <div class="event-charts">
      <EventChart {...props} cursor={cursor} />
      <Minutes {...props} cursor={cursor} />
    </div>
  );
}

function EventChart({ answer, saying, window: asked, cursor }: EventChartProps & { readonly cursor: Cursor }) {
  const { url, route } = useLocation();
  const ink = useInk();
  const { event, record, window: whole } = answer;
  const window = asked ?? whole;
  const { known, shown } = useSeries(event.site, eventSeries(record), window, event.end === null);
  const chart = useMemo(() => {
    if (shown === null) return null;
    const plots = eventPlots(answer, shown.series, saying, eventSpans(answer, shown.series, window, saying));
    const label = BOARD.onOneAxis(plots.map(({ title }) => title));
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
      cursor={cursor}
      onWindow={(next) => route(pathOf(next === null ? view : { ...view, window: next }, clockOf(url)), true)}
    />
  );
}
