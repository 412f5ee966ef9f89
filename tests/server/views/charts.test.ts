/** Chart options, drawn by the chart library itself to SVG: what it does not take shows here. */
import { init } from 'echarts';
import { describe, expect, test } from 'vitest';
import { checkSites } from '../../../ingest/site/check-sites.ts';
import type { ApiShareChart } from '../../../server/contract/figure.ts';
import type { Series } from '../../../server/contract/series.ts';
import type { Chart, ChartInk } from '../../../server/views/chart.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import { eventPlots, eventSeries, packPlots, packSeries } from '../../../server/views/event-plots.ts';
import { presentLine, sayPresentLine } from '../../../server/views/present-line.ts';
import { shareOverTime, shareStatistic } from '../../../server/views/share-charts.ts';
import { shareScatter } from '../../../server/views/share-scatter.ts';
import { readingsPlots, stackedTraces } from '../../../server/views/stacked-traces.ts';
import { MILLPOND } from '../../ingest/site/millpond.ts';

const DAY = 86_400_000;
const from = Date.UTC(2026, 2, 2);
const saying = { words: ENGLISH, zone: 'Europe/Lisbon', now: from + 40 * DAY };
const record = checkSites([{ file: 'sites.yaml', text: MILLPOND }]).documents[0]!;
const ink: ChartInk = {
  ground: '#fff',
  ink: '#111',
  ink2: '#222',
  ink3: '#333',
  rule: '#ccc',
  rule2: '#888',
  beyond: '#eee',
  act: '#b00',
  units: ['#004488', '#228833', '#AA3377'],
  unitTexts: ['#004488', '#1c7a2e', '#111111'],
  font: 'sans-serif',
};

function draw({ option, height }: Chart): string {
  const chart = init(null, null, { renderer: 'svg', ssr: true, width: 900, height });
  chart.setOption(option);
  const svg = chart.renderToSVGString();
  chart.dispose();
  return svg;
}

/** u2 carries 49 % as proven and 44 % now; the ninth day has no loaded bin. */
const chart: ApiShareChart = {
  site: 'millpond',
  phase: 'L1',
  mode: 'grid',
  ids: ['u1', 'u2'],
  loadedFromW: 3200,
  baseline: {
    from,
    to: from + 7 * DAY,
    bins: 2,
    lines: [
      { offsetW: 0, slope: 0.51 },
      { offsetW: 0, slope: 0.49 },
    ],
    sample: [
      { totalW: 5000, unitW: [2550, 2450] },
      { totalW: 9000, unitW: [4590, 4410] },
    ],
  },
  days: Array.from({ length: 20 }, (_, i) => i)
    .filter((i) => i !== 8)
    .map((i) => ({
      day: from + i * DAY,
      shares:
        i < 10
          ? [
              [0.5, 0.51, 0.52],
              [0.48, 0.49, 0.5],
            ]
          : [
              [0.55, 0.56, 0.57],
              [0.43, 0.44, 0.45],
            ],
    })),
  recent: [
    { t: from + 19 * DAY, totalW: 5000, unitW: [2800, 2200], statistic: [0.4, -1.4] },
    { t: from + 19.5 * DAY, totalW: 9000, unitW: [5040, 3960], statistic: [0.6, -2] },
  ],
};
const asked = { chart, unit: 'u2', proven: 0.49, limit: 0.03, onset: from + 10 * DAY };

function series(of: string, more: Partial<Series> = {}): Series {
  const [kind, id, quantity] = of.split('/') as [Series['kind'], string, Series['quantity']];
  const t = [from, from + 60_000, from + 60_001, from + 900_000];
  return { of, kind, id, quantity, decimals: 1, symbol: 'V', words: null, t, mean: [230, 231, null, 229], ...more };
}

describe('share charts', () => {
  test('over time: median, limits and proven as figures at the right end, gaps as gaps', () => {
    const made = shareOverTime(asked, saying, ink);
    const svg = draw(made);
    for (const text of ['limit 52.0', 'proven 49.0', 'limit 46.0', 'u2', 'began']) expect(svg).toContain(text);
    const { series: drawn } = made.option as { series: { name?: string; data: [number, number | null][] }[] };
    const median = drawn.find(({ name }) => name === 'u2')!.data;
    expect(median.filter(([, value]) => value === null)).toHaveLength(1);
    expect(made.table().rows).toHaveLength(19);
    expect(made.table().rows.at(-1)!.slice(1)).toEqual(['43.0', '44.0', '45.0']);
  });

  test('unit against total: the present line goes through the proven offset', () => {
    expect(presentLine(asked)!.slope).toBeCloseTo(0.44, 12);
    expect(presentLine(asked)!.moved).toBe('slope');
    expect(sayPresentLine(asked, saying).replaceAll('\u00a0', ' ')).toBe(
      'At 7.00 kW u2 carries 3.08 kW, 350 W less than as proven (3.43 kW). The slope went from 49.0 to 44.0 % and the offset stayed: what changed grows with the load, as a resistance does.',
    );
    const svg = draw(shareScatter(asked, saying, ink));
    expect(svg.replaceAll('\u00a0', ' ')).toContain('proven, 49.0 %');
    expect(svg.replaceAll('\u00a0', ' ')).toContain('now, 44.0 %');
  });

  test('the test with its threshold', () => {
    expect(draw(shareStatistic(asked, saying, ink))).toContain('threshold');
  });

  test('while a baseline is learnt nothing is said to be proven', () => {
    const learning = { ...asked, chart: { ...chart, baseline: null, recent: [] }, proven: null };
    expect(draw(shareOverTime(learning, saying, ink))).not.toContain('proven');
    expect(draw(shareScatter(learning, saying, ink))).not.toContain('proven');
    expect(presentLine(learning)).toBeNull();
    expect(() => shareScatter({ ...learning, unit: 'u9' }, saying, ink)).toThrow('u9');
  });
});

describe('stacked traces', () => {
  test('the five plots of an event, with limits as figures and names at line ends', () => {
    const traces = eventSeries(record).map((of) =>
      series(of, of.endsWith('soc_pct') ? { mean: [90, 80, null, 70] } : {}),
    );
    expect(traces.map(({ of }) => of)).toContain('unit/u1/grid_voltage_v');
    const plots = eventPlots({ record }, traces, saying);
    expect(plots.map(({ traces: own }) => own.length)).toEqual([1, 1, 1, 2, 2]);
    const svg = draw(
      stackedTraces(
        plots,
        { from, to: from + 900_000 },
        [{ t: from + 60_000, text: 'no grid' }],
        'what it shows',
        saying,
        ink,
      ),
    );
    for (const text of ['limit 207', 'limit 49.0', 'rating 8.0', 'reserve 20', 'u1', 'u2', 'no grid'])
      expect(svg).toContain(text);
  });

  test('an envelope keeps the least and the greatest of each bucket', () => {
    const one = series('pack/p1/soc_pct', {
      mean: [50, 51, null, 52],
      min: [40, 41, null, 42],
      max: [60, 61, null, 62],
      symbol: '%',
    });
    const made = stackedTraces(
      packPlots(record, [one], saying),
      { from, to: from + 900_000 },
      [],
      'packs',
      saying,
      ink,
    );
    const { series: drawn } = made.option as { series: { data: [number, number | null][] }[] };
    expect(drawn.some(({ data }) => JSON.stringify(data.map(([, v]) => v)) === '[40,41,null,42]')).toBe(true);
    expect(drawn.some(({ data }) => JSON.stringify(data.map(([, v]) => v)) === '[20,20,null,20]')).toBe(true);
    expect(draw(made)).toContain('<svg');
    expect(packSeries(record)).toContain('pack/p2/pack_current_a');
  });

  test('readings of one unit of measure share a plot; the table says words of states', () => {
    const plots = readingsPlots([
      series('unit/u1/output_voltage_v'),
      series('unit/u2/output_voltage_v'),
      series('unit/u1/mode', {
        symbol: '',
        decimals: 0,
        words: ['off', 'standby', 'starting', 'grid'],
        mean: [3, 3, null, 0],
      }),
    ]);
    expect(plots.map(({ traces }) => traces.map(({ name }) => name))).toEqual([['u1', 'u2'], ['u1']]);
    const made = stackedTraces(plots, { from, to: from + 900_000 }, [], 'readings', saying, ink);
    expect(draw(made)).toContain('Output voltage');
    const { rows } = made.table();
    expect(rows).toHaveLength(3);
    expect(rows[0]!.slice(1)).toEqual(['230.0', '230.0', 'grid']);
    expect(rows[2]!.at(-1)).toBe('off');
  });
});
