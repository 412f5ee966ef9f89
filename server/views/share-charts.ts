/** Two charts of a share: over time, and the test with its threshold. */
import { DAY_MS, HOUR_MS } from '../../ingest/vocabulary/time.ts';
import type { ApiShareChart } from '../contract/figure.ts';
import {
  beyondAreas,
  type Chart,
  type ChartInk,
  type ChartOption,
  levelLines,
  type MarkedLine,
  nameColor,
  PLOT_LEFT,
  PLOT_RIGHT,
  timeAxis,
  traceStyle,
  valueAxis,
} from './chart.ts';
import { dayText, figureText, fullTimeText, lengthText } from './figures.ts';
import { placeOf } from './present-line.ts';
import type { Saying } from './saying.ts';

const PERCENT = 100;
const SHARE_DECIMALS = 1;
/** Part of the chart from which words fit into a gap. */
const GAP_PART = 0.08;
const HEIGHT = { share: 220, test: 180 } as const;

export interface ShareAsked {
  readonly chart: ApiShareChart;
  readonly unit: string;
  /** As the figure says, part of 1; null: not proven. */
  readonly proven: number | null;
  /** Part of 1. */
  readonly limit: number;
  /** Start of the drift, where there is one. */
  readonly onset: number | null;
}

/** Days without a loaded bin are gaps: a line may not cross them. */
function daysWithGaps(
  chart: ApiShareChart,
): { readonly t: number; readonly shares: readonly (readonly number[])[] | null }[] {
  const out: { t: number; shares: readonly (readonly number[])[] | null }[] = [];
  for (const { day, shares } of chart.days) {
    const last = out.at(-1);
    if (last !== undefined && day + 12 * HOUR_MS - last.t > 1.5 * DAY_MS)
      out.push({ t: last.t + DAY_MS, shares: null });
    out.push({ t: day + 12 * HOUR_MS, shares });
  }
  return out;
}

export function shareGrid(bottom: number): object {
  return { left: PLOT_LEFT, right: PLOT_RIGHT, top: 12, bottom };
}

function shareLines({ proven, limit }: ShareAsked, { words }: Saying): MarkedLine[] {
  if (proven === null) return [];
  const at = (share: number, word: string, isDotted: boolean): MarkedLine => ({
    at: share * PERCENT,
    text: `${word} ${figureText(share * PERCENT, SHARE_DECIMALS)}`,
    isDotted,
  });
  const { limit: limitWord, proven: provenWord } = words.chart;
  return [at(proven + limit, limitWord, false), at(proven, provenWord, true), at(proven - limit, limitWord, false)];
}

/** Days without a loaded bin, said where they are wide enough for words. */
function dayGaps(chart: ApiShareChart, { words }: Saying, from: number, to: number, ink: ChartInk): object {
  const gaps = chart.days.flatMap(({ day }, i) => {
    const before = chart.days[i - 1]?.day;
    const missing = before === undefined ? 0 : day - before - DAY_MS;
    return before === undefined || missing < GAP_PART * (to - from)
      ? []
      : [[{ xAxis: before + DAY_MS, name: `${words.chart.tooLittle}\n${lengthText(missing)}` }, { xAxis: day }]];
  });
  return {
    silent: true,
    itemStyle: { color: 'transparent' },
    label: { color: ink.ink2, fontFamily: ink.font, fontSize: 12, position: 'inside' },
    data: gaps,
  };
}

/** Median of each day with a stroke from least to greatest, the proven share, its band, and the onset. */
export function shareOverTime(asked: ShareAsked, saying: Saying, ink: ChartInk): Chart {
  const { chart, unit, proven, limit, onset } = asked;
  const { words } = saying;
  const place = placeOf(asked);
  const style = traceStyle(place, ink);
  const days = daysWithGaps(chart);
  const [from, to] = [days[0]?.t ?? 0, days.at(-1)?.t ?? 1];
  const shares = days.flatMap((d) => (d.shares === null ? [] : d.shares[place]!));
  const bounds = proven === null ? shares : [...shares, proven + limit, proven - limit];
  const [least, greatest] = [Math.min(...bounds), Math.max(...bounds)].map((share) => share * PERCENT) as [
    number,
    number,
  ];
  const range = { min: Math.floor(least - 1), max: Math.ceil(greatest + 1) };
  const part = { type: 'line', symbol: 'none', animation: false, connectNulls: false };
  const band = (index: 0 | 2): [number, number | null][] =>
    days.map(({ t, shares: own }) => {
      const [low, , high] = own === null ? [] : own[place]!;
      if (low === undefined || high === undefined) return [t, null];
      return [t, (index === 0 ? low : high - low) * PERCENT];
    });
  const onsetLine =
    onset === null
      ? []
      : [
          {
            xAxis: onset,
            lineStyle: { color: ink.ink, width: 1, type: 'solid' },
            label: { formatter: words.chart.began, color: ink.ink, fontFamily: ink.font },
          },
        ];
  const levels = levelLines(shareLines(asked, saying), ink) as { data: readonly object[] };
  const option: ChartOption = {
    animation: false,
    grid: shareGrid(28),
    xAxis: timeAxis(from, to, ink),
    yAxis: valueAxis(ink, range, 0, HEIGHT.share),
    series: [
      {
        ...part,
        silent: true,
        data: [],
        markArea:
          proven === null ? undefined : beyondAreas((proven - limit) * PERCENT, (proven + limit) * PERCENT, range, ink),
        markLine: { ...levels, data: [...levels.data, ...onsetLine] },
      },
      { ...part, silent: true, data: [], markArea: dayGaps(chart, saying, from, to, ink) },
      { ...part, silent: true, stack: 'spread', lineStyle: { opacity: 0 }, data: band(0) },
      {
        ...part,
        silent: true,
        stack: 'spread',
        lineStyle: { opacity: 0 },
        areaStyle: { color: style.color, opacity: 0.18 },
        data: band(2),
      },
      {
        ...part,
        name: unit,
        lineStyle: style,
        itemStyle: { color: style.color },
        endLabel: { show: true, formatter: unit, color: nameColor(place, ink), fontFamily: ink.font, fontSize: 12 },
        tooltip: { valueFormatter: (value: number) => figureText(value, SHARE_DECIMALS) },
        data: days.map(({ t, shares: own }) => [t, own === null ? null : own[place]![1]! * PERCENT]),
      },
    ],
  };
  const title = words.chart.shareOf(unit);
  return {
    title,
    unit: '%',
    label: `${title}, %: ${shareLines(asked, saying)
      .map(({ text }) => text)
      .join(', ')}.`,
    height: HEIGHT.share,
    option,
    table: () => ({
      columns: [words.chart.day, words.chart.least, words.chart.median, words.chart.greatest],
      rows: chart.days.map(({ day, shares: own }) => [
        dayText(day, words.locale, 'UTC', saying.now),
        ...own[place]!.map((share) => figureText(share * PERCENT, SHARE_DECIMALS)),
      ]),
    }),
  };
}

/** The test statistic over its threshold, bin by bin: beyond ±1 a drift is raised. */
export function shareStatistic(
  { chart, unit, onset }: Pick<ShareAsked, 'chart' | 'unit' | 'onset'>,
  saying: Saying,
  ink: ChartInk,
): Chart {
  const { words } = saying;
  const place = placeOf({ chart, unit });
  const style = traceStyle(place, ink);
  const values = chart.recent.map(({ t, statistic }): [number, number] => [t, statistic[place]!]);
  const [from, to] = [values[0]?.[0] ?? 0, values.at(-1)?.[0] ?? 1];
  const greatest = Math.max(1.2, ...values.map(([, v]) => Math.abs(v))) * 1.1;
  const range = { min: -greatest, max: greatest };
  const levels = levelLines(
    [1, -1].map((at) => ({ at, text: words.chart.threshold, isDotted: false })),
    ink,
  ) as { data: readonly object[] };
  const title = words.chart.statisticOf(unit);
  const option: ChartOption = {
    animation: false,
    grid: shareGrid(28),
    xAxis: timeAxis(from, to, ink),
    yAxis: valueAxis(ink, range, 1, HEIGHT.test),
    series: [
      {
        type: 'line',
        symbol: 'none',
        animation: false,
        lineStyle: style,
        itemStyle: { color: style.color },
        data: values,
        name: unit,
        tooltip: { valueFormatter: (value: number) => figureText(value, 2) },
        markArea: beyondAreas(-1, 1, range, ink),
        markLine: {
          ...levels,
          data: [
            ...levels.data,
            ...(onset === null
              ? []
              : [
                  {
                    xAxis: onset,
                    lineStyle: { color: ink.ink, type: 'solid' },
                    label: { formatter: words.chart.began },
                  },
                ]),
          ],
        },
      },
    ],
  };
  return {
    title,
    unit: '',
    label: `${title}; beyond ${words.chart.threshold} a drift is raised.`,
    height: HEIGHT.test,
    option,
    table: () => ({
      columns: [words.chart.time, title],
      rows: values.map(([t, v]) => [fullTimeText(t, words.locale, saying.zone), figureText(v, 2)]),
    }),
  };
}
