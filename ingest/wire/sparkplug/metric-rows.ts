/** The metrics of one message as readings: one for each time they carry. */
import { type Column, columnOf } from '../../vocabulary/quantities.ts';
import type { SourceKey } from '../../vocabulary/reading.ts';
import { type Fault, readTime } from '../line-meaning.ts';
import { mappedValue, type OddCounts, type ValueRule, valueRule } from '../mqtt/mapped-value.ts';
import type { MessageSink } from '../mqtt/message.ts';
import type { MappedQuantity } from '../mqtt/topic-entry.ts';
import { metricValue } from './metric-value.ts';
import type { Holder } from './node-session.ts';
import type { Metric, SparkplugPayload } from './payload.ts';

/** Metrics of the protocol itself. */
const OF_THE_PROTOCOL = /^(?:bdSeq$|Node Control\/|Device Control\/)/;

interface Row {
  readonly values: number[];
  readonly extras: Map<string, unknown>;
  fault: Fault | null;
}

/** What one message says of one time. */
interface Instant {
  readonly rows: Row[];
  /** How often each quantity or metric came. */
  readonly seen: Map<string, number>;
}

/** Which metric is which quantity, for one kind of source at a time. */
export class MetricRules {
  readonly #mapped: ReadonlyMap<string, MappedQuantity>;
  readonly #known = new Map<string, ValueRule>();

  constructor(metrics: Readonly<Record<string, MappedQuantity>>) {
    this.#mapped = new Map(Object.entries(metrics));
  }

  /** @returns undefined for a metric that is kept beside the quantities */
  of(kind: SourceKey['kind'], name: string): ValueRule | undefined {
    const key = `${kind}/${name}`;
    const known = this.#known.get(key);
    if (known !== undefined) return known;
    // A metric that is called as a quantity is that quantity.
    const mapped = this.#mapped.get(name) ?? { quantity: name, factor: 1, states: null };
    const column: Column | undefined = columnOf(kind, mapped.quantity);
    if (column === undefined) return undefined;
    const rule = valueRule(column, mapped);
    this.#known.set(key, rule);
    return rule;
  }
}

interface Asked {
  readonly source: SourceKey;
  readonly holder: Holder;
  readonly rules: MetricRules;
  readonly odds: OddCounts;
  /** What to do where a birth was missed. */
  readonly birthRemedy: string;
  needsBirth(): void;
}

/** @see Sparkplug 3.0, 6.4.6: a metric has a timestamp of its own; where it has none, that of the payload counts */
export function takeMetrics(payload: SparkplugPayload, asked: Asked, sink: MessageSink): void {
  const rows = new Map<number, Instant>();
  let unknown = 0;
  let untimed: Fault | null = null;
  for (const metric of payload.metrics) {
    const born = asked.holder.resolve(metric);
    if (born === null) {
      unknown += 1;
      continue;
    }
    if (OF_THE_PROTOCOL.test(born.name)) continue;
    const t = readTime(metric.timestamp ?? payload.timestamp);
    if (typeof t !== 'number') {
      untimed ??= {
        what: `metric ${born.name.slice(0, 60)}: ${t.what}`,
        remedy: 'send a timestamp with each metric, in ms',
      };
      continue;
    }
    const instant = rows.get(t) ?? { rows: [], seen: new Map() };
    rows.set(t, instant);
    putMetric(metric, born, instant, asked);
  }
  if (untimed !== null) sink.refuse(untimed);
  if (unknown > 0) {
    const what =
      unknown === 1 ? 'a metric comes by an alias that no birth named' : 'metrics come by aliases that no birth named';
    sink.refuse({ what, remedy: asked.birthRemedy });
    asked.needsBirth();
  }
  for (const [t, instant] of rows) for (const row of instant.rows) endRow(t, row, asked.source, sink);
}

function endRow(t: number, { values, extras, fault }: Row, source: SourceKey, sink: MessageSink): void {
  if (fault !== null) {
    sink.refuse(fault);
    return;
  }
  const kept = extras.size === 0 ? null : Object.fromEntries(extras);
  sink.take({ source, t, values, extras: kept, replaces: false, revision: 0, settings: null, alarm: null });
}

function putMetric(
  metric: Metric,
  { name, datatype }: { name: string; datatype: number },
  instant: Instant,
  asked: Asked,
): void {
  const said = metric.isNull ? ({ is: 'absent' } as const) : metricValue(metric.raw, datatype);
  if (said.is === 'unread') {
    asked.odds.count('data sets, templates, bytes and files are not read');
    return;
  }
  const rule = asked.rules.of(asked.source.kind, name);
  // A null of a metric that is kept beside the quantities says nothing.
  if (said.is === 'absent' && rule === undefined) return;
  const row = rowFor(instant, rule === undefined ? `/${name}` : rule.column.id);
  if (said.is === 'absent') return;
  if (said.is === 'untyped') {
    asked.needsBirth();
    row.fault ??= {
      what: `metric ${name.slice(0, 60)} is an integer whose datatype neither it nor its birth names`,
      remedy: 'let the node be born again, or send the datatype',
    };
    return;
  }
  if (rule === undefined) {
    row.extras.set(name, extraValue(said.value));
    return;
  }
  const stored = mappedValue(rule, said.value, asked.odds);
  if (stored === null) return;
  if (typeof stored === 'number') row.values.push(rule.column.index, stored);
  else row.fault ??= { what: `metric ${name.slice(0, 60)}: ${stored.what}`, remedy: stored.remedy };
}

/** JSON has no word for NaN: what is no number is kept as nothing. */
const extraValue = (value: number | string | boolean): number | string | boolean | null =>
  typeof value === 'number' && !Number.isFinite(value) ? null : value;

/**
 * The first row of that time that does not hold the quantity yet: two values of one metric and time are two claims,
 * and the intake decides between them.
 */
function rowFor({ rows, seen }: Instant, key: string): Row {
  const times = seen.get(key) ?? 0;
  seen.set(key, times + 1);
  const known = rows[times];
  if (known !== undefined) return known;
  const row: Row = { values: [], extras: new Map(), fault: null };
  rows.push(row);
  return row;
}
