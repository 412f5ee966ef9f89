/** The figures behind a chart. */

import { useMemo } from 'preact/hooks';
import type { Chart } from '../../server/views/chart.ts';
import { Table } from '../parts/table.tsx';
import { BOARD } from '../words.ts';

/** More rows than this nobody reads on a screen; the CSV has all of them. */
const MOST_ROWS = 1000;

export function ChartTable({ chart, onClose }: { chart: Chart; onClose: () => void }) {
  const { columns, rows } = useMemo(() => chart.table(), [chart]);
  return (
    <div class="chart-table">
      <Table
        caption={chart.label}
        columns={columns.map((head) => ({ head }))}
        rows={rows.slice(0, MOST_ROWS)}
        scrolls
      />
      <p class="small second">
        {rows.length > MOST_ROWS ? `${BOARD.firstRows(MOST_ROWS, rows.length)} ` : ''}
        <button type="button" class="quiet" onClick={onClose}>
          {BOARD.closeTable}
        </button>
      </p>
    </div>
  );
}
