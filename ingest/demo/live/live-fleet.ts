/** The demo fleet as it lives: its devices answer, its gateways publish and write, each by its own way. */
import { appendFileSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { formatDay, MINUTE_MS, SECOND_MS } from '../../vocabulary/time.ts';
import { planFleet } from '../fleet.ts';
import { LOCKGATE_PROFILE, MILLRACE_PROFILE } from '../profiles.ts';
import { type DemoBroker, openBroker } from './broker.ts';
import {
  courierFile,
  folderEntry,
  modbusEntry,
  mqttEntry,
  nodeOf,
  PROFILE_FILES,
  pollEveryMs,
} from './fleet-sources.ts';
import { KeptPorts } from './kept-ports.ts';
import { LivingSite, type SiteEars } from './living-site.ts';
import type { ModbusSite } from './modbus-site.ts';
import { jsonMessage, logLine, nativeMessage } from './say-reading.ts';
import { openSiteDevices } from './site-devices.ts';
import { type FleetSeed, type HeldSite, keepHeldSite, openHeldSite } from './site-file.ts';
import { SparkplugNode } from './sparkplug-node.ts';
import type { DemoFault, StartedFault } from './started-faults.ts';
import { isPolled, type Way, wayOf } from './ways.ts';

export interface FleetHouse {
  readonly fleet: FleetSeed;
  /** Times the world's speed at which the clock was started. */
  readonly speed: number;
  /** Where gateways that write files write them. */
  readonly logs: string;
  /** For configurations and profiles. */
  readonly config: string;
  nowMs(): number;
  elapsedMs(): number;
}

/** One site as the demo's page lists it. */
export interface ShownSite {
  readonly site: string;
  readonly name: string;
  readonly way: Way;
}

export interface LiveFleet {
  /** Lets a site live from where its file stands. @param isAgain what came up to now was said by an earlier process */
  add(place: number, isAgain: boolean): Promise<void>;
  /** Entries of `sources:` for all sites that live. */
  sources(): readonly object[];
  /** The courier's configuration; null: no site has one, or it does not live yet. */
  courier(): string | null;
  /** Moves all sites on to now; to be called several times a second. */
  advance(): void;
  sites(): readonly ShownSite[];
  started(): readonly StartedFault[];
  /** @returns null where that site has it already, or does not live */
  start(site: string, fault: DemoFault, minutes: number | null): StartedFault | null;
  /** Ends what lasts at a site. */
  clear(site: string): number;
  /** Writes where each site stands. */
  keep(): void;
  close(): Promise<void>;
}

interface Living {
  readonly held: HeldSite;
  readonly living: LivingSite;
  readonly way: Way;
  readonly node: SparkplugNode | null;
  readonly devices: ModbusSite | null;
  readonly entry: object | null;
}

/** Above it ticks are a minute long: nobody can follow more. */
const FINE_SPEED = 10;

export async function openLiveFleet(house: FleetHouse): Promise<LiveFleet> {
  mkdirSync(house.config, { recursive: true });
  mkdirSync(house.logs, { recursive: true });
  writeFileSync(join(house.config, PROFILE_FILES.unit), MILLRACE_PROFILE);
  writeFileSync(join(house.config, PROFILE_FILES.pack), LOCKGATE_PROFILE);
  const ports = new KeptPorts(join(house.config, 'ports.json'));
  return new Fleet(house, await openBroker(ports), ports);
}

class Fleet implements LiveFleet {
  readonly #house: FleetHouse;
  readonly #broker: DemoBroker;
  readonly #ports: KeptPorts;
  readonly #living: Living[] = [];
  readonly #mqtt: object;
  #courier: string | null = null;

  constructor(house: FleetHouse, broker: DemoBroker, ports: KeptPorts) {
    this.#house = house;
    this.#ports = ports;
    this.#broker = broker;
    const plans = planFleet(house.fleet).map((plan, place) => ({ plan, way: this.#wayOf(place) }));
    this.#mqtt = mqttEntry(broker.port, plans);
    // Whoever begins to listen knows no aliases yet.
    broker.onListener('spBv1.0', () => {
      for (const { node } of this.#living) node?.bear(house.nowMs());
    });
  }

  #wayOf(place: number): Way {
    return wayOf(place, this.#house.speed > 1);
  }

  async add(place: number, isAgain: boolean): Promise<void> {
    const { fleet, speed, config, nowMs } = this.#house;
    const held = openHeldSite(fleet, place);
    if (held.nextMs === null) throw new RangeError(`Cannot let ${held.site} live: it has no past`);
    const way = this.#wayOf(place);
    const { plan } = held.run.state;
    const keys = [
      ...plan.units.map(({ id }) => ({ site: plan.id, kind: 'unit', id }) as const),
      ...plan.packs.map(({ id }) => ({ site: plan.id, kind: 'pack', id }) as const),
      ...(plan.bankLine ? [{ site: plan.id, kind: 'bank', id: 'bank' } as const] : []),
      ...(plan.acPvW > 0 ? [{ site: plan.id, kind: 'meter', id: 'm1' } as const] : []),
    ];
    const publish = (topic: string, payload: Uint8Array): void => this.#broker.publish(topic, payload);
    const node = way === 'sparkplug' ? new SparkplugNode(nodeOf(plan.id), keys, publish) : null;
    const tickMs = speed > FINE_SPEED ? MINUTE_MS : 10 * SECOND_MS;
    let isMute = isAgain;
    const ears = this.#ears(way, node);
    const living = new LivingSite(held.run, held.nextMs, tickMs, {
      hear: (said) => isMute || ears.hear(said),
      hearLine: (line) => isMute || ears.hearLine(line),
    });
    living.advance(nowMs());
    isMute = false;
    const devices = isPolled(way)
      ? await openSiteDevices(living, way, await this.#ports.free(plan.id), this.#house)
      : null;
    const entry = devices === null ? null : modbusEntry({ plan, way }, devices.port, pollEveryMs(speed), config);
    if (way === 'courier' && entry !== null) {
      this.#courier = join(config, 'courier.yaml');
      writeFileSync(this.#courier, courierFile(entry, { logs: this.#courierLogs(), linkPort: this.#broker.linkPort }));
    }
    this.#living.push({ held, living, way, node, devices, entry: way === 'courier' ? null : entry });
    if (way === 'sunspec') living.saySettings(nowMs());
  }

  #courierLogs(): string {
    return join(this.#house.config, 'courier-incoming');
  }

  /** Where readings and lines of a site go that nobody fetches. */
  #ears(way: Way, node: SparkplugNode | null): SiteEars {
    const send = ({ topic, payload }: { topic: string; payload: string }): void => this.#broker.publish(topic, payload);
    const write = (line: string, site: string, t: number): void => this.#write(way, line, site, t);
    const isWritten = way === 'folder' || way === 'courier';
    return {
      hear: (said) => {
        const { kind, site } = said.source;
        if (isPolled(way) && (kind === 'unit' || kind === 'pack')) return;
        if (isWritten) write(logLine(said), site, said.t);
        else if (node !== null) node.say(said);
        else send(way === 'json' && kind === 'unit' ? jsonMessage(said) : nativeMessage(said));
      },
      hearLine: (line) => {
        const { site, unit, ...rest } = JSON.parse(line) as { site: string; unit: string; t: string | number };
        if (isWritten) write(line, site, new Date(rest.t).getTime());
        else send({ topic: `kilter/v1/${site}/unit/${unit}`, payload: JSON.stringify(rest) });
      },
    };
  }

  #write(way: Way, line: string, site: string, t: number): void {
    const folder = join(way === 'courier' ? this.#courierLogs() : this.#house.logs, site);
    mkdirSync(folder, { recursive: true });
    appendFileSync(join(folder, `${formatDay(t)}.ndjson`), `${line}\n`);
  }

  sources(): readonly object[] {
    const polled = this.#living.flatMap(({ entry }) => (entry === null ? [] : [entry]));
    return [folderEntry(this.#house.logs), this.#mqtt, ...polled];
  }

  courier(): string | null {
    return this.#courier;
  }

  advance(): void {
    const nowMs = this.#house.nowMs();
    for (const { living, way, node } of this.#living) {
      living.advance(nowMs);
      if (way === 'courier') this.#broker.setLink(!living.isWithoutGrid(nowMs));
      if (living.isSilent) node?.die(nowMs);
    }
  }

  sites(): readonly ShownSite[] {
    return this.#living.map(({ held, way }) => ({ site: held.site, name: held.run.state.plan.name, way }));
  }

  started(): readonly StartedFault[] {
    return this.#living.flatMap(({ held }) => held.started.list);
  }

  start(site: string, fault: DemoFault, minutes: number | null): StartedFault | null {
    const one = this.#living.find(({ held }) => held.site === site);
    const nowMs = this.#house.nowMs();
    const started = one?.held.started.start(fault, nowMs, minutes === null ? null : minutes * MINUTE_MS) ?? null;
    if (one !== undefined && started !== null) this.#changed(one, fault);
    return started;
  }

  clear(site: string): number {
    const one = this.#living.find(({ held }) => held.site === site);
    if (one === undefined) return 0;
    const changed = one.held.started.clear(this.#house.nowMs());
    if (changed > 0) this.#changed(one, 'wrong_setting');
    return changed;
  }

  #changed({ held, living, way }: Living, fault: DemoFault): void {
    // Within the second in which it begins: the settings are those of then.
    if (fault === 'wrong_setting' && way !== 'profile' && way !== 'courier')
      setTimeout(() => living.saySettings(this.#house.nowMs()), 2 * SECOND_MS).unref();
    keepHeldSite(this.#house.fleet, held, living.nextMs);
  }

  keep(): void {
    for (const { held, living } of this.#living) keepHeldSite(this.#house.fleet, held, living.nextMs);
  }

  async close(): Promise<void> {
    this.keep();
    await Promise.all(this.#living.map(({ devices }) => devices?.close()));
    await this.#broker.close();
  }
}
