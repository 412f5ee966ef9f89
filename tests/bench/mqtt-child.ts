/** A fleet that publishes: argument 1 a JSON of what. Paced, or as fast as the broker takes it; ends when all is taken. */
import { connect } from 'mqtt';
import type { MqttFleet } from './mqtt-part.ts';

const fleet = JSON.parse(process.argv[2] ?? '') as MqttFleet;
const { url, sites, sources, seconds, everyS, isPaced } = fleet;
const client = connect(url, { clientId: 'fleet', keepalive: 60 });
const topics = Array.from({ length: sites * sources }, (_, k) => {
  const site = `site-${Math.floor(k / sources)}`;
  const n = k % sources;
  return n < 4 ? `kilter/v1/${site}/unit/u${n + 1}` : `kilter/v1/${site}/pack/p${n - 3}`;
});
const total = Math.round((topics.length * seconds) / everyS);

/** About 600 bytes, as a unit with all it measures sends them. */
function payloadOf(k: number, t: number): string {
  const wave = (scale: number): number => Number((scale * (1 + Math.sin(k / 97) / 20)).toFixed(2));
  const values: Record<string, unknown> = { t };
  if (topics[k % topics.length]?.includes('/unit/') === true) {
    for (const [id, scale] of UNIT) values[id] = wave(scale);
    values.mode = 'grid';
  } else for (const [id, scale] of PACK) values[id] = wave(scale);
  return JSON.stringify(values);
}
const UNIT: readonly (readonly [string, number])[] = [
  ['grid_voltage_v', 230],
  ['grid_frequency_hz', 50],
  ['grid_power_w', 900],
  ['output_voltage_v', 230],
  ['output_frequency_hz', 50],
  ['output_current_a', 5.2],
  ['output_power_w', 1215],
  ['output_apparent_va', 1300],
  ['output_reactive_var', 210],
  ['load_pct', 15],
  ['pv_power_w', 300],
  ['dc_voltage_v', 52.8],
  ['dc_current_a', 4.1],
  ['battery_soc_pct', 71],
  ['heatsink_temperature_c', 41],
  ['grid_import_wh', 1_234_567],
  ['output_energy_wh', 7_654_321],
  ['pv_energy_wh', 345_678],
  ['fan_speed', 1200],
  ['relay_count', 51],
  ['board_temperature', 38.5],
];
const PACK: readonly (readonly [string, number])[] = [
  ['pack_voltage_v', 53.2],
  ['pack_current_a', 4.2],
  ['soc_pct', 71],
  ['soh_pct', 98],
  ['cell_voltage_min_v', 3.3],
  ['cell_voltage_max_v', 3.33],
  ['cell_temperature_min_c', 21],
  ['cell_temperature_max_c', 24],
  ['remaining_ah', 71],
  ['full_ah', 99],
  ['humidity', 40],
  ['balance_current', 0.1],
  ['shunt_temperature', 28],
  ['heater', 1],
];

let sent = 0;
let taken = 0;
const base = fleet.from;
function publishUpTo(count: number): void {
  for (; sent < Math.min(count, total); sent += 1) {
    const topic = topics[sent % topics.length]!;
    const t = isPaced ? Date.now() : base + Math.floor(sent / topics.length) * everyS * 1000;
    client.publish(topic, payloadOf(sent, t), { qos: 1 }, () => {
      taken += 1;
      if (taken === total) client.end(false, {}, () => process.exit(0));
    });
  }
}

client.on('connect', () => {
  const started = performance.now();
  const timer = setInterval(() => {
    // Ahead of the broker by no more than it holds well.
    const due = isPaced ? Math.floor((((performance.now() - started) / 1000) * topics.length) / everyS) : taken + 2000;
    publishUpTo(due);
    if (sent === total) clearInterval(timer);
  }, 20);
});
