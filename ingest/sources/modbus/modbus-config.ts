/** `kind: modbus` of a configuration: where devices are reached, how often, and what each of them carries. */
import { resolve } from 'node:path';
import { z } from 'zod';
import { ID_RULE, isSiteId } from '../../vocabulary/ids.ts';
import { DEVICE_KEYS, type DeviceConfig, deviceFaults, sourcesOf } from '../../wire/modbus/device-config.ts';
import type { Profile } from '../../wire/modbus/profile.ts';
import { type ConfigHouse, readEntry, type SourceReading } from '../source-config.ts';
import { type ModbusTarget, type SerialTarget, sayTarget } from './modbus-target.ts';
import { readProfileFile } from './profile-file.ts';

export interface ModbusDevice {
  /** As in the status: `u1 at address 1`. */
  readonly name: string;
  readonly address: number;
  readonly config: DeviceConfig;
}

/** Plain data: it crosses a process. */
export interface ModbusConfig {
  readonly kind: 'modbus';
  readonly name: string;
  readonly target: ModbusTarget;
  readonly everyMs: number;
  readonly timeoutMs: number;
  readonly devices: readonly ModbusDevice[];
}

const DEFAULTS = {
  everyS: 10,
  timeoutMs: 1000,
  /** The serial line's own guide has 19200 and even parity; what is sold comes set to this. */
  baud: 9600,
  parity: 'none',
  dataBits: 8,
  stopBits: 1,
  /** Of Modbus TCP, as registered with IANA. */
  tcpPort: 502,
} as const;

const EVERY = 'give the seconds from one poll to the next, 0.2 to 86400';
const TIMEOUT = 'give the milliseconds that a device may take for an answer, 20 to 60000';
const ADDRESS = 'give the unit address: 1 to 247, or 0 or 255 for a device that is itself on the network';
const READS = 'write reads: sunspec, or the file of a register profile';
const CONNECT =
  'write connect: { tcp: "192.168.0.10:502" }, { rtu_over_tcp: "host:port" } or { serial: "/dev/ttyUSB0", baud: 9600, parity: none }';
const BAUD = 'give the bits per second that the devices are set to, for example 9600';
const text = (remedy: string) => z.string({ error: remedy }).min(1, { error: remedy });

const connectSchema = z.strictObject(
  {
    tcp: text(CONNECT).optional(),
    rtu_over_tcp: text(CONNECT).optional(),
    serial: text(CONNECT).optional(),
    baud: z.int({ error: BAUD }).min(300, { error: BAUD }).max(4_000_000, { error: BAUD }).optional(),
    parity: z.enum(['none', 'even', 'odd'], { error: 'give none, even or odd' }).optional(),
    data_bits: z.union([z.literal(7), z.literal(8)], { error: 'give 8: RTU needs all of them' }).optional(),
    stop_bits: z.union([z.literal(1), z.literal(2)], { error: 'give 1 or 2' }).optional(),
  },
  { error: CONNECT },
);
const deviceSchema = z.strictObject(
  {
    ...DEVICE_KEYS,
    address: z.int({ error: ADDRESS }).refine((n) => (n >= 0 && n <= 247) || n === 255, { error: ADDRESS }),
    reads: text(READS),
  },
  { error: 'write { unit: u1, address: 1, reads: sunspec }' },
);
const schema = z.strictObject(
  {
    kind: z.literal('modbus'),
    site: z
      .string({ error: `give the id of the site: ${ID_RULE}` })
      .refine(isSiteId, { error: `give the id of the site: ${ID_RULE}` }),
    connect: connectSchema,
    every_s: z
      .number({ error: EVERY })
      .min(0.2, { error: EVERY })
      .max(86_400, { error: EVERY })
      .default(DEFAULTS.everyS),
    timeout_ms: z.int({ error: TIMEOUT }).min(20, { error: TIMEOUT }).max(60_000, { error: TIMEOUT }).optional(),
    devices: z
      .array(deviceSchema, { error: 'write a list of devices, each a line that begins with "- "' })
      .min(1, { error: 'name one device at least: { unit: u1, address: 1, reads: sunspec }' }),
  },
  { error: 'write the keys kind, site, connect, every_s and devices' },
);
type Written = z.infer<typeof schema>;
type WrittenDevice = Written['devices'][number];
type Fault = (path: readonly PropertyKey[], what: string, remedy: string) => void;

/** @returns the configuration of one entry, or every mistake in it and in the profiles that it names */
export function readModbusConfig(value: unknown, house: ConfigHouse): SourceReading<ModbusConfig> {
  return readEntry(value, schema, (written, fault) => {
    const target = targetOf(written.connect, fault);
    const profileOf = profiles(house);
    const devices = written.devices.map((device, i) =>
      deviceOf(device, written.site, target, profileOf, (path, what, remedy) =>
        fault(['devices', i, ...path], what, remedy),
      ),
    );
    const everyMs = Math.round(written.every_s * 1000);
    return {
      kind: 'modbus',
      name: nameOf(target, written.site, devices[0]!),
      target,
      everyMs,
      // In a short cadence half of it at most, so that one silent device leaves room for the others.
      timeoutMs: written.timeout_ms ?? Math.min(DEFAULTS.timeoutMs, Math.round(everyMs / 2)),
      devices,
    };
  });
}

/** Two sources may share a host, so more is needed to tell them apart; a serial port has one user. */
function nameOf(target: ModbusTarget, site: string, first: ModbusDevice): string {
  const at = `modbus ${sayTarget(target)}`;
  return target.kind === 'serial' ? at : `${at} ${site} ${sourcesOf(first.config)[0]?.id ?? first.address}`;
}

const SERIAL_KEYS = ['baud', 'parity', 'data_bits', 'stop_bits'] as const;

function targetOf(connect: Written['connect'], fault: Fault): ModbusTarget {
  const ways = (['tcp', 'rtu_over_tcp', 'serial'] as const).filter((way) => connect[way] !== undefined);
  const [way] = ways;
  if (way === undefined) fault(['connect'], 'connect names no way to the devices', CONNECT);
  for (const another of ways.slice(1))
    fault(['connect', another], `both ${way} and ${another} are given`, 'give one: another way is another source');
  if (way === 'serial') return serialTarget(connect);
  for (const key of SERIAL_KEYS) {
    if (connect[key] !== undefined)
      fault(['connect', key], `${key} says nothing beside ${way ?? 'a network'}`, 'take it out: it belongs to serial');
  }
  const kind = way ?? 'tcp';
  const written = connect[kind] ?? '127.0.0.1';
  const place = hostAndPort(written, kind === 'tcp' ? DEFAULTS.tcpPort : null);
  if (place === null)
    fault(
      ['connect', kind],
      `${kind} is "${written}"`,
      'give host:port, for example "192.168.0.10:502" or "[fd00::10]:502"',
    );
  return { kind, ...(place ?? { host: '', port: 0 }) };
}

function serialTarget({ serial = '', baud, parity, data_bits, stop_bits }: Written['connect']): SerialTarget {
  return {
    kind: 'serial',
    path: resolve(serial),
    baud: baud ?? DEFAULTS.baud,
    parity: parity ?? DEFAULTS.parity,
    dataBits: data_bits ?? DEFAULTS.dataBits,
    stopBits: stop_bits ?? DEFAULTS.stopBits,
  };
}

/** @param port  what is taken where none is written; null: one must be */
function hostAndPort(written: string, port: number | null): { readonly host: string; readonly port: number } | null {
  const parts = /^(?:\[([0-9a-fA-F:.]+)\]|([^\s:/[\]]+))(?::(\d{1,5}))?$/.exec(written);
  const host = parts?.[1] ?? parts?.[2];
  const number = parts?.[3] === undefined ? port : Number(parts[3]);
  if (host === undefined || number === null || number < 1 || number > 65_535) return null;
  return { host, port: number };
}

function deviceOf(
  { address, reads, ...keys }: WrittenDevice,
  site: string,
  target: ModbusTarget,
  profileOf: (path: string, fault: Fault) => Profile | null,
  fault: Fault,
): ModbusDevice {
  if (target.kind !== 'tcp' && (address === 0 || address === 255))
    fault(['address'], `address is ${address}, which no device on a serial line answers to`, 'give 1 to 247');
  const profile = reads === 'sunspec' ? null : profileOf(reads, fault);
  const config: DeviceConfig = { site, ...keys, reads: profile === null ? 'sunspec' : { profile } };
  // Of a profile that could not be read its own mistakes are said; what follows from it can't be.
  const mayCheck = reads === 'sunspec' || profile !== null;
  if (mayCheck) for (const one of deviceFaults(config)) fault(one.path, one.fault.what, one.fault.remedy);
  const carried = sourcesOf(config).map(({ id }) => id);
  return { name: `${carried.join(', ')} at address ${address}`, address, config };
}

/** Reads each profile once; its mistakes are said where it is first named. */
function profiles({ folder }: ConfigHouse): (path: string, fault: Fault) => Profile | null {
  const read = new Map<string, Profile | null>();
  return (path, fault) => {
    const file = resolve(folder, path);
    const known = read.get(file);
    if (known !== undefined) return known;
    const { profile, mistakes } = readProfileFile(file);
    for (const { where, what, remedy } of mistakes) fault(['reads'], `${where}: ${what}`, remedy);
    read.set(file, profile);
    return profile;
  };
}
