/**
 * The parts of the chart library that Kilter draws with: the only file that imports it, and itself imported only lazily,
 * so that a page without a chart never pays for it. Cursor, zoom, labels for readers by ear and tables are our own:
 * the library only draws.
 */
import { LineChart, ScatterChart } from 'echarts/charts';
import { GridComponent, MarkAreaComponent, MarkLineComponent, TitleComponent } from 'echarts/components';
import { init, use } from 'echarts/core';
import { LabelLayout } from 'echarts/features';
import { CanvasRenderer } from 'echarts/renderers';

use([
  LineChart,
  ScatterChart,
  GridComponent,
  MarkAreaComponent,
  MarkLineComponent,
  TitleComponent,
  LabelLayout,
  CanvasRenderer,
]);

export type { EChartsType } from 'echarts/core';
export { init };
