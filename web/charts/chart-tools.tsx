/** What can be done with a chart besides reading it. */
import type { Chart } from '../../server/views/chart.ts';
import { PAGE_LABELS } from '../parts/page-labels.ts';
import { csvOf, saveText } from './save.ts';

interface ChartToolsProps {
  readonly chart: Chart;
  /** Of saved files, without its ending. */
  readonly file: string;
  /** null: this chart has no window to move. */
  readonly zoom: ((factor: number) => void) | null;
  readonly isWhole: boolean;
  readonly onWhole: () => void;
  readonly isTable: boolean;
  readonly onTable: () => void;
  readonly onPicture: () => void;
}

export const ZOOM = { nearer: 0.5, further: 2 } as const;

export function ChartTools(props: ChartToolsProps) {
  const { chart, file, zoom, isWhole, onWhole, isTable, onTable, onPicture } = props;
  const onCsv = () => {
    const { columns, rows } = chart.table();
    saveText(csvOf([columns, ...rows]), `${file}.csv`);
  };
  return (
    <span class="chart-tools">
      {zoom === null ? null : (
        <>
          <button type="button" class="quiet" onClick={() => zoom(ZOOM.nearer)}>
            {PAGE_LABELS.nearer}
          </button>
          <button type="button" class="quiet" disabled={isWhole} onClick={() => zoom(ZOOM.further)}>
            {PAGE_LABELS.further}
          </button>
          <button type="button" class="quiet" disabled={isWhole} onClick={onWhole}>
            {PAGE_LABELS.whole}
          </button>
        </>
      )}
      <button type="button" class="quiet" aria-expanded={isTable} onClick={onTable}>
        {PAGE_LABELS.asTable}
      </button>
      <button type="button" class="quiet" onClick={onCsv}>
        {PAGE_LABELS.csv}
      </button>
      <button type="button" class="quiet" onClick={onPicture}>
        {PAGE_LABELS.png}
      </button>
    </span>
  );
}
