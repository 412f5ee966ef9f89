/** The power of a unit against the total of its set, as proven and as now: shows what kind of change it is. */
import { type Chart, type ChartInk, traceStyle, valueAxis } from './chart.ts';
import { figureText, fullTimeText } from './figures.ts';
import type { Saying } from './saying.ts';
import { placeOf, type ShareAsked, shareGrid } from './share-charts.ts';

/** Bins behind the present line: about a loaded day, as the finding's own figures. */
const NOW_BINS = 48;
const kilo = (w: number): number => w / 1000;
const percent = (b: number): string => `${figureText(b * 100, 1)}\u00a0%`;

interface Line {
  readonly name: string;
  readonly offsetW: number;
  readonly slope: number;
  readonly color: string;
  readonly width: number;
  readonly type: string | readonly number[];
}

function straightLine({ name, offsetW, slope, color, width, type }: Line, greatestW: number, ink: ChartInk): object {
  return {
    type: 'line',
    symbol: 'none',
    silent: true,
    animation: false,
    lineStyle: { color, width, type },
    endLabel: { show: true, formatter: name, color, fontFamily: ink.font, fontSize: 12 },
    data: [
      [0, kilo(offsetW)],
      [kilo(greatestW), kilo(offsetW + slope * greatestW)],
    ],
  };
}

function clouds({ chart, unit }: Pick<ShareAsked, 'chart' | 'unit'>, notJudged: string, ink: ChartInk): object[] {
  const place = placeOf({ chart, unit });
  const points = (bins: readonly { readonly totalW: number; readonly unitW: readonly number[] }[]): number[][] =>
    bins.map(({ totalW, unitW }) => [kilo(totalW), kilo(unitW[place]!)]);
  return [
    {
      type: 'scatter',
      silent: true,
      symbolSize: 5,
      itemStyle: { color: 'transparent', borderColor: ink.ink3, borderWidth: 1 },
      data: points(chart.baseline?.sample ?? []),
      markArea: {
        silent: true,
        itemStyle: { color: ink.beyond },
        label: { color: ink.ink2, fontFamily: ink.font, fontSize: 11, position: 'insideTop' },
        data: [[{ xAxis: 0, name: notJudged }, { xAxis: kilo(chart.loadedFromW) }]],
      },
    },
    {
      type: 'scatter',
      symbolSize: 4,
      itemStyle: { color: traceStyle(place, ink).color },
      data: points(chart.recent.slice(-NOW_BINS)),
    },
  ];
}

/** Slope of the present line through the proven offset, from the newest bins; null without any. */
export function presentSlope({ chart, unit }: Pick<ShareAsked, 'chart' | 'unit'>): number | null {
  const place = placeOf({ chart, unit });
  const offsetW = chart.baseline?.lines[place]?.offsetW ?? 0;
  let [xy, xx] = [0, 0];
  for (const { totalW, unitW } of chart.recent.slice(-NOW_BINS)) {
    xy += totalW * (unitW[place]! - offsetW);
    xx += totalW * totalW;
  }
  return xx > 0 ? xy / xx : null;
}

/** Hollow as proven, filled as now, each with its line. */
export function shareScatter(asked: Pick<ShareAsked, 'chart' | 'unit'>, saying: Saying, ink: ChartInk): Chart {
  const { chart, unit } = asked;
  const { chart: words } = saying.words;
  const place = placeOf(asked);
  const style = traceStyle(place, ink);
  const line = chart.baseline?.lines[place] ?? null;
  const all = [...(chart.baseline?.sample ?? []), ...chart.recent];
  const greatestW = Math.max(1000, ...all.map(({ totalW }) => totalW)) * 1.05;
  const slope = presentSlope(asked);
  const lines: Line[] = [
    ...(line === null
      ? []
      : [{ name: `${words.proven}, ${percent(line.slope)}`, ...line, color: ink.ink2, width: 1, type: 'dotted' }]),
    ...(slope === null
      ? []
      : [{ ...style, name: `${words.now}, ${percent(slope)}`, offsetW: line?.offsetW ?? 0, slope }]),
  ];
  const title = words.powerOf(unit);
  return {
    title,
    unit: 'kW',
    label: `${title}, ${words.total}: ${lines.map(({ name }) => name).join('; ')}.`,
    height: 320,
    option: {
      animation: false,
      aria: { enabled: true },
      grid: shareGrid(44),
      xAxis: {
        ...valueAxis(ink, { min: 0, max: kilo(greatestW) }, (v) => figureText(v, 0)),
        name: `${words.total}, kW`,
        nameLocation: 'end',
        nameGap: 26,
        nameTextStyle: { color: ink.ink2, align: 'right', verticalAlign: 'top' },
      },
      yAxis: valueAxis(ink, { min: 0 }, (v) => figureText(v, 0)),
      series: [...clouds(asked, words.notJudged, ink), ...lines.map((one) => straightLine(one, greatestW, ink))],
    },
    table: () => ({
      columns: [words.time, `${words.total} W`, `${unit} W`],
      rows: chart.recent.map(({ t, totalW, unitW }) => [
        fullTimeText(t, saying.words.locale, saying.zone),
        figureText(totalW, 0),
        figureText(unitW[place]!, 0),
      ]),
    }),
  };
}
