/** What `kilter probe` was asked for, checked. */

import type { ModbusTarget } from '../sources/modbus/modbus-target.ts';
import type { RegisterRange } from '../sources/modbus/probe-device.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { oneOf, wholeNumber } from './read-options.ts';
import { readDuration } from './read-time.ts';

export const PROBE = 'probe';

/** Modbus TCP's port, as registered with IANA. */
const TCP_PORT = 502;
const DEFAULTS = { baud: 9600, timeoutMs: 1000, pauseMs: 5000, reads: 2, address: 1 } as const;
const TABLES = ['holding', 'input', 'coil', 'discrete'] as const;
/** So many registers at once are a whole table's worth on a slow line: minutes. */
const MOST_REGISTERS = 10_000;

export const PROBE_OPTIONS = {
  tcp: 'value',
  'rtu-over-tcp': 'value',
  serial: 'value',
  baud: 'value',
  parity: 'value',
  address: 'value',
  profile: 'value',
  base: 'value',
  strings: 'value',
  registers: 'value',
  reads: 'value',
  every: 'value',
  'timeout-ms': 'value',
  record: 'value',
  replay: 'value',
  json: 'flag',
  'profile-schema': 'flag',
} as const;

type Written = {
  readonly [Name in keyof typeof PROBE_OPTIONS]: (typeof PROBE_OPTIONS)[Name] extends 'flag'
    ? boolean
    : string | undefined;
};

export const mistake = (what: string, remedy: string): NeedsOperator =>
  new NeedsOperator({ where: `kilter ${PROBE}`, what, remedy });

/** A target, or the file of a recording. @throws NeedsOperator unless exactly one is named */
export function readWay(options: Written): ModbusTarget | { readonly kind: 'replay'; readonly file: string } {
  const ways = (['tcp', 'rtu-over-tcp', 'serial', 'replay'] as const).filter((way) => options[way] !== undefined);
  const [way, second] = ways;
  if (way === undefined)
    throw mistake(
      'no device is named',
      'give --tcp HOST:PORT, --rtu-over-tcp HOST:PORT, --serial /dev/ttyUSB0 or --replay FILE',
    );
  if (second !== undefined) throw mistake(`both --${way} and --${second} are given`, 'give one of them');
  for (const key of ['baud', 'parity'] as const) {
    if (options[key] !== undefined && way !== 'serial')
      throw mistake(`--${key} says nothing beside --${way}`, 'take it out: it belongs to --serial');
  }
  const written = options[way] ?? '';
  if (way === 'replay') {
    if (options.record !== undefined) throw mistake('both --replay and --record are given', 'give one of them');
    return { kind: 'replay', file: written };
  }
  if (way !== 'serial') return netTarget(way, written);
  const { baud, parity = 'none' } = options;
  return {
    kind: 'serial',
    path: written,
    baud: baud === undefined ? DEFAULTS.baud : wholeNumber(PROBE, 'baud', baud, 300, 4_000_000),
    parity: oneOf(PROBE, 'parity', parity, ['none', 'even', 'odd']),
    dataBits: 8,
    stopBits: 1,
  };
}

function netTarget(way: 'tcp' | 'rtu-over-tcp', written: string): ModbusTarget {
  const parts = /^(?:\[([0-9a-fA-F:.]+)\]|([^\s:/[\]]+))(?::(\d{1,5}))?$/.exec(written);
  const host = parts?.[1] ?? parts?.[2];
  const port = parts?.[3] === undefined && way === 'tcp' ? TCP_PORT : Number(parts?.[3]);
  if (host === undefined || !(port >= 1 && port <= 65_535))
    throw mistake(`--${way} is "${written}"`, 'give host:port, for example 192.168.0.10:502 or [fd00::10]:502');
  return { kind: way === 'tcp' ? 'tcp' : 'rtu_over_tcp', host, port };
}

/** `holding:0-99,input:30-40`. */
export function readRangesOption(text: string): readonly RegisterRange[] {
  const ranges = text.split(',').map((part): RegisterRange => {
    const [, table, from = '', to = from] = /^(\w+):(\d{1,5})(?:-(\d{1,5}))?$/.exec(part.trim()) ?? [];
    const known = TABLES.find((each) => each === table);
    if (known === undefined || Number(from) > Number(to) || Number(to) > 65_535)
      throw mistake(
        `--registers is "${text}"`,
        'give tables and 0-based addresses, for example holding:0-99,input:30-40',
      );
    return { table: known, first: Number(from), last: Number(to) };
  });
  const count = ranges.reduce((sum, { first, last }) => sum + last - first + 1, 0);
  if (count > MOST_REGISTERS)
    throw mistake(`--registers asks for ${count} registers`, `ask for ${MOST_REGISTERS} at most`);
  return ranges;
}

export interface ProbeNumbers {
  /** Null: not given. */
  readonly address: number | null;
  readonly timeoutMs: number;
  readonly pauseMs: number;
  readonly reads: number;
  readonly base: number | null;
  readonly strings: readonly number[];
}

export function readNumbers(options: Written): ProbeNumbers {
  const { address, base, reads, every, strings, 'timeout-ms': timeout } = options;
  const whole = (name: string, text: string | undefined, least: number, most: number): number | null =>
    text === undefined ? null : wholeNumber(PROBE, name, text, least, most);
  return {
    address: whole('address', address, 0, 255),
    timeoutMs: whole('timeout-ms', timeout, 20, 60_000) ?? DEFAULTS.timeoutMs,
    pauseMs: every === undefined ? DEFAULTS.pauseMs : readDuration(PROBE, 'every', every),
    reads: whole('reads', reads, 1, 1000) ?? DEFAULTS.reads,
    base: whole('base', base, 0, 65_535),
    strings:
      strings === undefined ? [] : strings.split(',').map((k) => wholeNumber(PROBE, 'strings', k.trim(), 1, 1000)),
  };
}

/** The address that is asked where none is given. */
export const DEFAULT_ADDRESS = DEFAULTS.address;
