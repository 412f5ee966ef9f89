/** Any readings of the site over the window of the page: chosen, drawn, and out as CSV. */

import { useMemo } from 'preact/hooks';
import type { QuantityId } from '../../../ingest/vocabulary/quantities.ts';
import { apiPath } from '../../../server/contract/paths.ts';
import type { SiteAnswer } from '../../../server/contract/site.ts';
import { quantityLook } from '../../../server/views/figures.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { readingsPlots, stackedTraces } from '../../../server/views/stacked-traces.ts';
import { ChartHost } from '../../charts/chart-host.tsx';
import type { Cursor } from '../../charts/cursor.ts';
import { useInk } from '../../charts/use-ink.ts';
import { useSeries } from '../../charts/use-series.ts';
import { ChartWaits, FailedPart } from '../../parts/known.tsx';
import type { AskedReading, TimeWindow } from '../../url/view.ts';
import { BOARD } from '../../words.ts';

interface ExplorerProps {
  readonly answer: SiteAnswer;
  readonly saying: Saying;
  readonly readings: readonly AskedReading[];
  readonly onReadings: (readings: readonly AskedReading[]) => void;
  readonly cursor: Cursor;
  readonly window: TimeWindow;
  readonly whole: TimeWindow;
  readonly onWindow: (window: TimeWindow | null) => void;
}

/** As many as one answer of the series route holds. */
const MOST = 24;
const HEIGHT_PX = 200;

function Choices({ answer, readings, onReadings }: Pick<ExplorerProps, 'answer' | 'readings' | 'onReadings'>) {
  const chosen = new Set(readings);
  const toggle = (one: string) => {
    if (chosen.has(one)) chosen.delete(one);
    else chosen.add(one);
    onReadings([...chosen]);
  };
  return (
    <form class="choose">
      {answer.sources.map(({ kind, id, quantities }) => {
        const own = quantities.filter((quantity) => readings.includes(`${kind}/${id}/${quantity}`)).length;
        return (
          <details key={`${kind}/${id}`} open={own > 0}>
            <summary>
              <b>{id}</b> <span class="small second">{BOARD.chosenOf(own, quantities.length)}</span>
            </summary>
            <fieldset class="choices">
              <legend class="unseen">{id}</legend>
              {quantities.map((quantity) => {
                const one = `${kind}/${id}/${quantity}`;
                const { label, symbol } = quantityLook(quantity as QuantityId);
                return (
                  <label key={one}>
                    <input
                      type="checkbox"
                      checked={chosen.has(one)}
                      disabled={!chosen.has(one) && chosen.size >= MOST}
                      onChange={() => toggle(one)}
                    />
                    {label} <span class="second">{symbol}</span>
                  </label>
                );
              })}
            </fieldset>
          </details>
        );
      })}
    </form>
  );
}

/** One file a source: as the command line gives it. */
function CsvLinks({ answer, readings, window }: Pick<ExplorerProps, 'answer' | 'readings' | 'window'>) {
  const sourceOf = (one: AskedReading) => one.slice(0, one.lastIndexOf('/'));
  const sources = [...new Set(readings.map(sourceOf))];
  return (
    <p class="small second">
      {BOARD.everyReading}{' '}
      {sources.map((source, place) => (
        <span key={source}>
          {place === 0 ? '' : ', '}
          <a
            download
            href={apiPath(
              'readingsCsv',
              { site: answer.record.site },
              {
                source,
                quantities: readings
                  .filter((one) => sourceOf(one) === source)
                  .map((one) => one.slice(source.length + 1))
                  .join(','),
                from: window.from,
                to: window.to,
              },
            )}
          >
            {source.split('/')[1]}
          </a>
        </span>
      ))}
    </p>
  );
}

export function Explorer({ answer, saying, readings, onReadings, window, ...hands }: ExplorerProps) {
  const ink = useInk();
  const { site } = answer.record;
  const { known, shown } = useSeries(site, readings, window, window.to >= hands.whole.to);
  const chart = useMemo(() => {
    if (shown === null) return null;
    const plots = readingsPlots(shown.series);
    return stackedTraces(plots, window, [], BOARD.onOneAxis(plots.map(({ title }) => title)), saying, ink);
  }, [shown, saying.zone, window.from, window.to, ink]);
  return (
    <section class="explorer" aria-labelledby="readings">
      <h2 id="readings">
        {BOARD.readings} <span>{BOARD.readingsWhat}</span>
      </h2>
      <Choices answer={answer} readings={readings} onReadings={onReadings} />
      {readings.length === 0 ? <p class="notice">{BOARD.noReadingsChosen}</p> : null}
      {readings.length > 0 && known.state === 'failed' ? <FailedPart fault={known.fault} /> : null}
      {readings.length > 0 && chart === null && known.state !== 'failed' ? <ChartWaits heightPx={HEIGHT_PX} /> : null}
      {readings.length > 0 && chart !== null ? (
        <>
          <ChartHost chart={chart} saying={saying} file={`${site}-readings`} window={window} {...hands} />
          <CsvLinks answer={answer} readings={readings} window={window} />
        </>
      ) : null}
    </section>
  );
}
