/** Everything about one backup event; extremes with their instants come from the readings themselves. */
import { recordAt } from '../../ingest/site/history.ts';
import type { SiteRecord } from '../../ingest/site/record.ts';
import { columnOf, fromStored, type QuantityId } from '../../ingest/vocabulary/quantities.ts';
import { dayOf, MINUTE_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { ApiEvent, EventAnswer, Extreme, UnitPeak } from '../contract/event.ts';
import { type ColumnCache, rowAt } from './column-cache.ts';
import type { Facts, House, SiteFacts } from './house.ts';
import { eventAt, markedEvents } from './marked-events.ts';
import { withId } from './site-answer.ts';

/** Shown before and after, at least; else a fifth of the event. */
const LEAST_AROUND_MS = 10 * MINUTE_MS;
/** A reading speaks until the next, and for no longer than this many intervals. */
const SPEAKS_INTERVALS = 3;
/** Below it the output is lost, and its voltage is no extreme of an output that is there: half of nominal. */
const THERE_SHARE = 0.5;

interface Sample {
  readonly t: number;
  readonly value: number;
  /** How long it speaks, ms. */
  readonly lastsMs: number;
}

/** The readings of one quantity of a unit in [from, to], each with the time it stands for. */
function samples(
  { readings }: House,
  cache: ColumnCache,
  site: string,
  unit: string,
  quantity: QuantityId,
  span: { readonly from: number; readonly to: number; readonly everyMs: number },
): Sample[] {
  const source = readings.sources(site).find((one) => one.kind === 'unit' && one.id === unit)?.source;
  const column = columnOf('unit', quantity);
  if (source === undefined || column === undefined) return [];
  const found: { t: number; value: number }[] = [];
  for (const head of readings.heads(source, dayOf(span.from), dayOf(span.to))) {
    const { tMs, values } = cache.read(site, head, column.index);
    if (values === undefined) continue;
    for (let row = rowAt(tMs, span.from); row < tMs.length && tMs[row]! <= span.to; row++) {
      if (!Number.isNaN(values[row]!)) found.push({ t: tMs[row]!, value: fromStored(column.decimals, values[row]!) });
    }
  }
  return found.map(({ t, value }, i) => {
    const next = found[i + 1]?.t ?? span.to;
    return { t, value, lastsMs: Math.max(0, Math.min(next - t, SPEAKS_INTERVALS * span.everyMs)) };
  });
}

const secondsOf = (all: readonly Sample[]): number =>
  Math.round(all.reduce((sum, { lastsMs }) => sum + lastsMs, 0) / SECOND_MS);

/**
 * The instant of an extreme that the analysis found, and how long readings stood beyond the limit.
 * The figure is the analysis' own, so that a page and the command line say the same.
 */
function extreme(
  value: number | null,
  all: readonly (readonly Sample[])[],
  isBeyond: (value: number) => boolean,
  isLow: boolean,
): Extreme {
  const read = all.flat();
  const furthest = read.reduce<Sample | null>(
    (a, b) => (a === null || (isLow ? b.value < a.value : b.value > a.value) ? b : a),
    null,
  );
  // Units on one bus are beyond a limit together: the one that was so longest tells how long.
  const outsideS = Math.max(0, ...all.map((own) => secondsOf(own.filter((one) => isBeyond(one.value)))));
  return { value, at: value === null ? null : (furthest?.t ?? null), outsideS };
}

function extremes(house: House, cache: ColumnCache, event: ApiEvent, record: SiteRecord, to: number) {
  const span = { from: event.start, to, everyMs: record.sample_interval_s * SECOND_MS };
  const nominal = record.supply.nominal_voltage_v;
  const read = (quantity: QuantityId, isThere: (value: number) => boolean): Sample[][] =>
    record.units.map(({ id }) =>
      samples(house, cache, event.site, id, quantity, span).filter(({ value }) => isThere(value)),
    );
  const volts = read('output_voltage_v', (value) => value >= THERE_SHARE * nominal);
  const hertz = read('output_frequency_hz', (value) => value > 0);
  const [lowHz, highHz] = record.island_frequency_band_hz;
  const [lowV, highV] = record.island_voltage_band_pct.map((pct) => nominal * (1 + pct / 100)) as [number, number];
  return {
    frequencyLow: extreme(event.frequencyMinHz, hertz, (v) => v < lowHz, true),
    frequencyHigh: extreme(event.frequencyMaxHz, hertz, (v) => v > highHz, false),
    voltageLow: extreme(event.voltageMinV, volts, (v) => v < lowV, true),
    voltageHigh: extreme(event.voltageMaxV, volts, (v) => v > highV, false),
    unitPeaks: record.units.map(({ id, rated_power_w: ratedW }): UnitPeak => {
      const power = samples(house, cache, event.site, id, 'output_power_w', span);
      const peak = power.reduce<Sample | null>((a, b) => (a === null || b.value > a.value ? b : a), null);
      return {
        unit: id,
        ratedW,
        peakW: peak?.value ?? null,
        peakAt: peak?.t ?? null,
        aboveRatingS: secondsOf(power.filter(({ value }) => value > ratedW)),
      };
    }),
  };
}

/** @returns null where no event of the site starts in that second */
export function eventAnswer(
  house: House,
  facts: Facts,
  cache: ColumnCache,
  own: SiteFacts,
  start: number,
): EventAnswer | null {
  const events = markedEvents(own.analysis.events, house.people.marks(own.site));
  const place = eventAt(events, start);
  const event = events[place];
  if (event === undefined) return null;
  const nowMs = house.nowMs();
  const to = event.end ?? Math.max(own.asOf ?? event.start, event.start);
  const aroundMs = Math.max(LEAST_AROUND_MS, (to - event.start) / 5);
  const record = recordAt(own.history, event.start);
  const isOwn = (kind: string): number => Number(!/excursion|output_lost/.test(kind));
  return {
    ...facts.version(),
    now: nowMs,
    record,
    event,
    window: { from: Math.floor(event.start - aroundMs), to: Math.ceil(to + aroundMs) },
    ...extremes(house, cache, event, record, to),
    findings: own.analysis.findings
      .filter((finding) => finding.start <= to && (finding.end ?? to) >= event.start)
      .sort((a, b) => isOwn(a.kind) - isOwn(b.kind) || a.start - b.start)
      .map(withId),
    before: events[place - 1]?.start ?? null,
    after: events[place + 1]?.start ?? null,
  };
}
