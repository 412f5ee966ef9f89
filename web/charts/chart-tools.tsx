/** What can be done with a chart besides reading it. */

import type { Chart } from '../../server/views/chart.ts';
import { BOARD } from '../words.ts';
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
            {BOARD.nearer}
          </button>
          <button type="button" class="quiet" disabled={isWhole} onClick={() => zoom(ZOOM.further)}>
            {BOARD.further}
          </button>
          <button type="button" class="quiet" disabled={isWhole} onClick={onWhole}>
            {BOARD.whole}
          </button>
        </>
      )}
      <button type="button" class="quiet" aria-expanded={isTable} onClick={onTable}>
        {BOARD.asTable}
      </button>
      <button type="button" class="quiet" onClick={onCsv}>
        {BOARD.csv}
      </button>
      <button type="button" class="quiet" onClick={onPicture}>
        {BOARD.png}
      </button>
    </span>
  );
}
