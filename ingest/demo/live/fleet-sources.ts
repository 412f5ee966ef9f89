/** The living fleet as `sources:` of a configuration: what anybody would write to read such sites. */
import { join } from 'node:path';
import { stringify } from 'yaml';
import { MINUTE_MS, SECOND_MS } from '../../vocabulary/time.ts';
import type { SitePlan } from '../site-plan.ts';
import { jsonEntry } from './say-reading.ts';
import { SPARKPLUG_GROUP, SPARKPLUG_METRICS } from './sparkplug-node.ts';
import { addressOf, type Way } from './ways.ts';

/** Files of the two profiles, beside each other. */
export const PROFILE_FILES = { unit: 'millrace-hybrid.yaml', pack: 'lockgate-pack.yaml' } as const;

export const nodeOf = (site: string): string => `gw-${site}`;

interface HeardSite {
  readonly plan: SitePlan;
  readonly way: Way;
}

export function folderEntry(path: string) {
  return { kind: 'folder', path };
}

/** One entry for all that is published, whether or not a site of it lives yet. */
export function mqttEntry(port: number, fleet: readonly HeardSite[]) {
  const nodes = fleet.flatMap(({ plan, way }) => {
    if (way !== 'sparkplug') return [];
    const devices = Object.fromEntries([
      ...plan.units.map(({ id }) => [id, { unit: id }]),
      ...plan.packs.map(({ id }) => [id, { pack: id }]),
      ...(plan.bankLine ? [['bank', { bank: 'bank' }]] : []),
      ...(plan.acPvW > 0 ? [['m1', { meter: 'm1' }]] : []),
    ]);
    return [[nodeOf(plan.id), { site: plan.id, devices }]];
  });
  const sparkplug = {
    reads: 'sparkplug',
    group: SPARKPLUG_GROUP,
    nodes: Object.fromEntries(nodes),
    metrics: SPARKPLUG_METRICS,
  };
  const hasJson = fleet.some(({ way }) => way === 'json');
  return {
    kind: 'mqtt',
    url: `mqtt://127.0.0.1:${port}`,
    protocol: 4,
    client_id: 'kilter-demo',
    topics: [{ reads: 'kilter' }, ...(nodes.length > 0 ? [sparkplug] : []), ...(hasJson ? [jsonEntry()] : [])],
  };
}

/** @param profiles folder of the profile files */
export function modbusEntry({ plan, way }: HeardSite, port: number, everyMs: number, profiles: string) {
  const reads = (kind: 'unit' | 'pack') => (way === 'sunspec' ? 'sunspec' : join(profiles, PROFILE_FILES[kind]));
  return {
    kind: 'modbus',
    site: plan.id,
    connect: { tcp: `127.0.0.1:${port}` },
    every_s: everyMs / SECOND_MS,
    // A machine that makes a fleet and judges it at once lets a device wait.
    timeout_ms: 2500,
    devices: [
      ...plan.units.map(({ id }, i) => ({ unit: id, address: addressOf('unit', i), reads: reads('unit') })),
      ...plan.packs.map(({ id }, k) => ({
        pack: id,
        address: addressOf('pack', k),
        reads: reads('pack'),
        ...(way === 'sunspec' ? { current_sign: 'charge_positive' } : {}),
      })),
    ],
  };
}

/** kilter.yaml of a courier: the site's devices, and the lines that its gateway leaves in a folder. */
export function courierFile(modbus: object, { logs, linkPort }: { logs: string; linkPort: number }): string {
  return stringify({
    sources: [modbus, folderEntry(logs)],
    forward: {
      name: 'demo',
      mqtt: { url: `mqtt://127.0.0.1:${linkPort}`, protocol: 4, client_id: 'kilter-demo-courier' },
    },
    queue: { path: './queue', max_mb: 64 },
  });
}

/** The interval in which devices are polled, in the time of the clock: not more often than the machine can bear. */
export const pollEveryMs = (speed: number): number => Math.min(MINUTE_MS, Math.max(10 * SECOND_MS, speed * SECOND_MS));
