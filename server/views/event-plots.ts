/** The five plots of a backup event and the series they are drawn from. */
import type { QuantityId } from '../../ingest/vocabulary/quantities.ts';
import type { EventAnswer } from '../contract/event.ts';
import type { Series } from '../contract/series.ts';
import type { ApiSiteRecord } from '../contract/site-record.ts';
import { figureText, lengthText, quantityLook, withUnit } from './figures.ts';
import type { Saying } from './saying.ts';
import type { Instant, Plot, Trace } from './stacked-traces.ts';

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

function voltagePlots(record: ApiSiteRecord, series: readonly Series[], { words }: Saying): Plot[] {
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
  });
  return [plot('grid_voltage_v'), plot('output_voltage_v')];
}

/** Grid voltage, output voltage, output frequency, load by unit, charge; limits shaded. */
export function eventPlots({ record }: Pick<EventAnswer, 'record'>, series: readonly Series[], saying: Saying): Plot[] {
  const { words } = saying;
  const [lowHz, highHz] = record.island_frequency_band_hz;
  const ids = record.units.map(({ id }) => id);
  const ratings = [...new Set(record.units.map(({ rated_power_w: w }) => w / 1000))];
  const limitHz = (at: number) => ({ at, text: `${words.chart.limit} ${figureText(at, 1)}`, isDotted: false });
  const reserve = record.reserve_soc_pct;
  return [
    ...voltagePlots(record, series, saying),
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
export function eventInstants({ event }: Pick<EventAnswer, 'event'>, { words }: Saying): Instant[] {
  return [
    { t: event.start, text: words.chart.noGrid },
    ...(event.end === null ? [] : [{ t: event.end, text: lengthText(event.end - event.start) }]),
  ];
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
