/** The power of a unit against the total of its set, as proven and as now: shows what kind of change it is. */
import { type Chart, type ChartInk, nameColor, traceStyle, valueAxis } from './chart.ts';
import { figureText, fullTimeText, signedPowerText } from './figures.ts';
import { type AskedLine, binsNow, placeOf, presentLine } from './present-line.ts';
import type { Saying } from './saying.ts';
import { shareGrid } from './share-charts.ts';

const HEIGHT = 320;
const WIDTH = 460;
const kilo = (w: number): number => w / 1000;
const percent = (b: number): string => `${figureText(b * 100, 1)}\u00a0%`;

interface Line {
  readonly name: string;
  readonly offsetW: number;
  readonly slope: number;
  readonly color: string;
  readonly nameColor: string;
  readonly width: number;
  readonly type: string | readonly number[];
}

function straightLine(line: Line, greatestW: number, ink: ChartInk): object {
  const { name, offsetW, slope, color, width, type } = line;
  return {
    type: 'line',
    symbol: 'none',
    silent: true,
    animation: false,
    lineStyle: { color, width, type },
    endLabel: { show: true, formatter: name, color: line.nameColor, fontFamily: ink.font, fontSize: 12 },
    labelLayout: { moveOverlap: 'shiftY' },
    data: [
      [0, kilo(offsetW)],
      [kilo(greatestW), kilo(offsetW + slope * greatestW)],
    ],
  };
}

function clouds(asked: AskedLine, notJudged: string, ink: ChartInk): object[] {
  const { chart } = asked;
  const place = placeOf(asked);
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
        // From the area's own edge on, past its end where it is narrower than its words.
        label: { color: ink.ink2, fontFamily: ink.font, fontSize: 11, position: ['3%', 4], align: 'left' },
        data: [[{ xAxis: 0, name: notJudged }, { xAxis: kilo(chart.loadedFromW) }]],
      },
    },
    {
      type: 'scatter',
      symbolSize: 4,
      itemStyle: { color: traceStyle(place, ink).color },
      data: points(binsNow(asked)),
    },
  ];
}

function linesOf(asked: AskedLine, { words }: Saying, ink: ChartInk): Line[] {
  const place = placeOf(asked);
  const proven = asked.chart.baseline?.lines[place] ?? null;
  const now = presentLine(asked);
  const { proven: provenWord, now: nowWord } = words.chart;
  return [
    ...(proven === null
      ? []
      : [
          {
            ...proven,
            name: `${provenWord}, ${percent(proven.slope)}`,
            color: ink.ink2,
            nameColor: ink.ink2,
            width: 1,
            type: 'dotted',
          },
        ]),
    ...(now === null
      ? []
      : [
          {
            ...traceStyle(place, ink),
            nameColor: nameColor(place, ink),
            // What moved is what is said of the line.
            name:
              now.moved === 'offset' && proven !== null
                ? `${nowWord}, ${signedPowerText(now.offsetW - proven.offsetW)}`
                : `${nowWord}, ${percent(now.slope)}`,
            offsetW: now.offsetW,
            slope: now.slope,
          },
        ]),
  ];
}

/** Hollow as proven, filled as now, each with its line. */
export function shareScatter(asked: AskedLine, saying: Saying, ink: ChartInk): Chart {
  const { chart, unit } = asked;
  const { chart: words } = saying.words;
  const place = placeOf(asked);
  const all = [...(chart.baseline?.sample ?? []), ...chart.recent];
  const greatestW = Math.max(1000, ...all.map(({ totalW }) => totalW)) * 1.05;
  const lines = linesOf(asked, saying, ink);
  const ends = lines.flatMap(({ offsetW, slope }) => [offsetW, offsetW + slope * greatestW]);
  const unitsW = [...ends, ...all.map(({ unitW }) => unitW[place]!)];
  const range = { min: kilo(Math.min(0, ...unitsW)), max: kilo(Math.max(500, ...unitsW)) * 1.08 };
  const title = words.powerOf(unit);
  return {
    title,
    unit: 'kW',
    label: `${title}, ${words.total}: ${lines.map(({ name }) => name).join('; ')}.`,
    height: HEIGHT,
    option: {
      animation: false,
      grid: shareGrid(44),
      xAxis: {
        ...valueAxis(ink, { min: 0, max: kilo(greatestW) }, 1, WIDTH),
        name: `${words.total}, kW`,
        nameLocation: 'end',
      },
      yAxis: valueAxis(ink, range, 1, HEIGHT),
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
