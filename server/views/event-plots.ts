/** The five plots of a backup event and the series they are drawn from. */
import type { QuantityId } from '../../ingest/vocabulary/quantities.ts';
import { MINUTE_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { EventAnswer } from '../contract/event.ts';
import type { Series } from '../contract/series.ts';
import type { ApiSiteRecord } from '../contract/site-record.ts';
import { figureText, lengthText, quantityLook, secondText, withUnit } from './figures.ts';
import type { Instant, Plot, Span, StackedWindow, Trace } from './plot.ts';
import type { Saying } from './saying.ts';

/** What to ask the series route for. The lead's grid and output stand for the set: units on one bus have one voltage. */
export function eventSeries({ units, packs }: Pick<ApiSiteRecord, 'units' | 'packs'>): string[] {
  const lead = units.find(({ role }) => role === 'lead') ?? units[0];
  return [
    ...(lead === undefined
      ? []
      : ['grid_voltage_v', 'output_voltage_v', 'output_frequency_hz'].map((q) => `unit/${lead.id}/${q}`)),
    ...units.map(({ id }) => `unit/${id}/output_power_w`),
    ...packs.map(({ id }) => `pack/${id}/soc_pct`),
  ];
}

const tracesOf = (series: readonly Series[], quantity: string, ids: readonly string[] | null): Trace[] =>
  series
    .filter((one) => one.quantity === quantity)
    .map((one) => ({
      series: one,
      name: ids === null ? '' : one.id,
      place: ids === null ? null : ids.indexOf(one.id),
    }));

function voltagePlots(
  record: ApiSiteRecord,
  series: readonly Series[],
  spans: readonly Span[],
  { words }: Saying,
): Plot[] {
  const nominal = record.supply.nominal_voltage_v;
  const [low, high] = record.island_voltage_band_pct.map((pct) => nominal * (1 + pct / 100)) as [number, number];
  const limit = (at: number) => ({ at, text: `${words.chart.limit} ${figureText(at, 0)}`, isDotted: false });
  const plot = (quantity: QuantityId): Plot => ({
    title: quantityLook(quantity).label,
    unit: 'V',
    factor: 1,
    decimals: 1,
    height: 62,
    traces: tracesOf(series, quantity, null),
    low,
    high,
    lines: [limit(low), limit(high)],
    range: { min: Math.floor(low * 0.96), max: Math.ceil(high * 1.03) },
    isCut: true,
  });
  return [{ ...plot('grid_voltage_v'), spans }, plot('output_voltage_v')];
}

/** Grid voltage, output voltage, output frequency, load by unit, charge; limits shaded. */
export function eventPlots(
  { record }: Pick<EventAnswer, 'record'>,
  series: readonly Series[],
  saying: Saying,
  spans: readonly Span[] = [],
): Plot[] {
  const { words } = saying;
  const [lowHz, highHz] = record.island_frequency_band_hz;
  const ids = record.units.map(({ id }) => id);
  const ratings = [...new Set(record.units.map(({ rated_power_w: w }) => w / 1000))];
  const limitHz = (at: number) => ({ at, text: `${words.chart.limit} ${figureText(at, 1)}`, isDotted: false });
  const reserve = record.reserve_soc_pct;
  return [
    ...voltagePlots(record, series, spans, saying),
    {
      title: quantityLook('output_frequency_hz').label,
      unit: 'Hz',
      factor: 1,
      decimals: 2,
      height: 130,
      traces: tracesOf(series, 'output_frequency_hz', null),
      low: lowHz,
      high: highHz,
      lines: [limitHz(lowHz), limitHz(highHz)],
      range: { min: lowHz - 0.5, max: highHz + 0.5 },
    },
    {
      title: words.chart.loadByUnit,
      unit: 'kW',
      factor: 0.001,
      decimals: 2,
      height: 170,
      traces: tracesOf(series, 'output_power_w', ids),
      low: null,
      high: ratings.length === 0 ? null : Math.max(...ratings),
      lines: ratings.map((at) => ({ at, text: `${words.chart.rating} ${figureText(at, 1)}`, isDotted: false })),
      range: { min: 0, max: Math.max(1, ...ratings) * 1.25 },
    },
    {
      title: words.chart.chargeOfPacks,
      unit: '%',
      factor: 1,
      decimals: 0,
      height: 90,
      traces: tracesOf(
        series,
        'soc_pct',
        record.packs.map(({ id }) => id),
      ),
      low: reserve,
      high: null,
      lines:
        reserve === null
          ? []
          : [{ at: reserve, text: `${words.chart.reserve} ${figureText(reserve, 0)}`, isDotted: false }],
      range: { min: 0, max: 100 },
    },
  ];
}

/** Grid lost and back, marked through all plots. */
export function eventInstants({ event }: Pick<EventAnswer, 'event'>, { words, zone }: Saying): Instant[] {
  const clock = (t: number): string => secondText(t, words.locale, zone);
  return [
    { t: event.start, text: words.chart.gridLost(clock(event.start)) },
    ...(event.end === null ? [] : [{ t: event.end, text: words.chart.unitsBack(clock(event.end)) }]),
  ];
}

/** Part of the window from which 'no grid for 1 h 59 min' fits in. */
const SAID_PART = 0.12;

/**
 * How long there was no grid, said in the plot of its voltage where there is room: from its first reading under half of
 * nominal to the first one above. The set comes back later, so that is not the length of the event.
 */
export function eventSpans(
  { event, record }: Pick<EventAnswer, 'event' | 'record'>,
  series: readonly Series[],
  window: StackedWindow,
  { words }: Saying,
): Span[] {
  const grid = series.find(({ quantity }) => quantity === 'grid_voltage_v');
  if (grid === undefined) return [];
  const half = record.supply.nominal_voltage_v / 2;
  const last = event.end ?? Number.POSITIVE_INFINITY;
  const gone = grid.t.flatMap((t, i) => ((grid.mean[i] ?? half) < half && t <= last ? [i] : []));
  const [first] = gone;
  if (first === undefined) return [];
  const backAt = grid.t[gone.at(-1)! + 1];
  const [from, to] = [grid.t[first]!, backAt ?? grid.t.at(-1)!];
  if (to - from < SAID_PART * (window.to - window.from)) return [];
  const isWhole = backAt !== undefined && from > window.from && grid.min === undefined;
  return [{ from, to, text: isWhole ? words.chart.noGridFor(lengthText(to - from)) : words.chart.noGrid }];
}

const AROUND_MS = 2 * MINUTE_MS;

/**
 * The minutes that matter, to be drawn enlarged: round the extreme furthest outside its band, else round the peak past
 * a rating, else round the changeover itself.
 */
export function eventMinutes(answer: EventAnswer): StackedWindow {
  const { event, record, window, unitPeaks, frequencyLow, frequencyHigh, voltageLow, voltageHigh } = answer;
  const outside = [frequencyLow, frequencyHigh, voltageLow, voltageHigh].filter(({ outsideS }) => outsideS > 0);
  const worst = outside.reduce<(typeof outside)[number] | null>(
    (a, b) => (a === null || b.outsideS > a.outsideS ? b : a),
    null,
  );
  const past = unitPeaks.find(({ aboveRatingS }) => aboveRatingS > 0);
  const at = worst?.at ?? past?.peakAt ?? event.start;
  const around = Math.max(AROUND_MS, 12 * record.sample_interval_s * SECOND_MS);
  return { from: Math.max(window.from, at - around), to: Math.min(window.to, at + around) };
}

/** Charge and current of each pack of a site, for the site page. */
export function packPlots(record: ApiSiteRecord, series: readonly Series[], { words }: Saying): Plot[] {
  const ids = record.packs.map(({ id }) => id);
  const reserve = record.reserve_soc_pct;
  return [
    {
      title: words.chart.chargeOfPacks,
      unit: '%',
      factor: 1,
      decimals: 1,
      height: 100,
      traces: tracesOf(series, 'soc_pct', ids),
      low: reserve,
      high: null,
      lines:
        reserve === null
          ? []
          : [{ at: reserve, text: `${words.chart.reserve} ${withUnit(reserve, 0, '%')}`, isDotted: false }],
      range: { min: 0, max: 100 },
    },
    {
      title: words.chart.currentOfPacks,
      unit: 'A',
      factor: 1,
      decimals: 1,
      height: 100,
      traces: tracesOf(series, 'pack_current_a', ids),
      low: null,
      high: null,
      lines: [],
      range: {},
    },
  ];
}

/** What to ask the series route for. */
export const packSeries = ({ packs }: Pick<ApiSiteRecord, 'packs'>): string[] =>
  packs.flatMap(({ id }) => [`pack/${id}/soc_pct`, `pack/${id}/pack_current_a`]);
