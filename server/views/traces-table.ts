/** The figures behind stacked plots: mean, and least and greatest where a point stands for many readings. */
import type { ChartTable } from './chart.ts';
import { figureText, fullTimeText } from './figures.ts';
import type { Plot } from './plot.ts';
import type { Saying } from './saying.ts';

export function tableOfPlots(plots: readonly Plot[], { words, zone }: Saying): ChartTable {
  const rows = new Map<number, string[]>();
  const columns = plots.flatMap((plot) =>
    plot.traces.flatMap(({ series, name }) => {
      const text = (value: number): string => series.words?.[value] ?? figureText(value * plot.factor, plot.decimals);
      const head = `${plot.title} ${name} ${plot.unit}`.trim();
      const mean = { head, t: series.t, values: series.mean, text };
      if (series.min === undefined || series.max === undefined) return [mean];
      const { least, greatest } = words.chart;
      return [
        mean,
        { head: `${head}, ${least}`, t: series.t, values: series.min, text },
        { head: `${head}, ${greatest}`, t: series.t, values: series.max, text },
      ];
    }),
  );
  columns.forEach(({ t, values, text }, column) => {
    t.forEach((at, i) => {
      const value = values[i]!;
      if (value === null) return;
      const row = rows.get(at) ?? columns.map(() => '');
      row[column] = text(value);
      rows.set(at, row);
    });
  });
  return {
    columns: [words.chart.time, ...columns.map(({ head }) => head)],
    rows: [...rows].sort((a, b) => a[0] - b[0]).map(([t, row]) => [fullTimeText(t, words.locale, zone), ...row]),
  };
}
