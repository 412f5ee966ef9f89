/** A reading as the payloads of the demo's gateways have it: Kilter's own topics, and one layout of somebody else's. */
import { COLUMNS, fromStored, type QuantityId, type SourceKind, toStored } from '../../vocabulary/quantities.ts';
import type { SourceKey } from '../../vocabulary/reading.ts';

export interface Said {
  readonly source: SourceKey;
  /** Epoch ms. */
  readonly t: number;
  /** In the order of the vocabulary's columns; NaN = absent. */
  readonly values: Float64Array;
}

export interface Message {
  readonly topic: string;
  readonly payload: string;
}

/** Each value that is there, rounded as it is stored, or as its word. */
export function valuesOf(kind: SourceKind, values: Float64Array): Map<QuantityId, number | string> {
  const said = new Map<QuantityId, number | string>();
  for (const { id, index, decimals, words } of COLUMNS[kind]) {
    const value = values[index]!;
    if (Number.isNaN(value)) continue;
    said.set(id, words === null ? fromStored(decimals, toStored(decimals, value)) : (words[value] ?? ''));
  }
  return said;
}

export const nativeTopic = ({ site, kind, id }: SourceKey): string => `kilter/v1/${site}/${kind}/${id}`;

/** A line without what the topic says. */
export function nativeMessage({ source, t, values }: Said): Message {
  const payload = JSON.stringify({ t, ...Object.fromEntries(valuesOf(source.kind, values)) });
  return { topic: nativeTopic(source), payload };
}

/** A line of NDJSON, as log files have it. */
export function logLine({ source: { site, kind, id }, t, values }: Said): string {
  return JSON.stringify({ t, site, [kind]: id, ...Object.fromEntries(valuesOf(kind, values)) });
}

interface Place {
  readonly pointer: string;
  /** What a value there is multiplied with to be the quantity. */
  readonly factor: number;
}
const at = (pointer: string, factor = 1): Place => ({ pointer, factor });

/** Where the JSON layout has each quantity. */
const UNIT_PLACES: { readonly [Id in QuantityId]?: Place } = {
  grid_voltage_v: at('/grid/volts'),
  grid_frequency_hz: at('/grid/hertz'),
  grid_power_w: at('/grid/kw', 1000),
  output_voltage_v: at('/out/volts'),
  output_frequency_hz: at('/out/hertz'),
  output_current_a: at('/out/amps'),
  output_power_w: at('/out/kw', 1000),
  output_apparent_va: at('/out/kva', 1000),
  output_reactive_var: at('/out/kvar', 1000),
  load_pct: at('/load'),
  pv_power_w: at('/sun/kw', 1000),
  dc_voltage_v: at('/battery/volts'),
  dc_current_a: at('/battery/amps'),
  battery_soc_pct: at('/battery/charge'),
  ct_power_w: at('/clamp/kw', 1000),
  heatsink_temperature_c: at('/warm'),
  fault_code: at('/code'),
  grid_import_wh: at('/meters/in'),
  output_energy_wh: at('/meters/out'),
  pv_energy_wh: at('/meters/sun'),
  mode: at('/state'),
};
const MODE_WORDS: Readonly<Record<string, string>> = { grid: 'ON GRID', backup: 'ISLAND', fault: 'FAULT' };

export const JSON_TOPIC = 'plants/{site}/inverters/{unit}/state';

/** The entry of `topics:` that reads the layout. */
export function jsonEntry() {
  const values = Object.entries(UNIT_PLACES).map(([id, { pointer, factor }]) => {
    const states = Object.fromEntries(Object.entries(MODE_WORDS).map(([word, text]) => [text, word]));
    return [id, { pointer, ...(factor === 1 ? {} : { factor }), ...(id === 'mode' ? { states } : {}) }];
  });
  return {
    reads: 'json',
    topic: JSON_TOPIC,
    time: { pointer: '/at', format: 'epoch_ms' },
    values: Object.fromEntries(values),
  };
}

export function jsonMessage({ source: { site, id }, t, values }: Said): Message {
  const payload: Record<string, unknown> = { at: t };
  for (const [quantity, value] of valuesOf('unit', values)) {
    const place = UNIT_PLACES[quantity];
    if (place === undefined) continue;
    const said = typeof value === 'string' ? (MODE_WORDS[value] ?? value) : value / place.factor;
    const [first = '', second] = place.pointer.slice(1).split('/');
    payload[first] = second === undefined ? said : { ...(payload[first] as object | undefined), [second]: said };
  }
  return { topic: JSON_TOPIC.replace('{site}', site).replace('{unit}', id), payload: JSON.stringify(payload) };
}
