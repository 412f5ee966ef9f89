/** Devices behind a link in virtual time: hours of polling pass in moments, and every answer takes what it is told to. */
import type { LiveDoor } from '../../../../ingest/intake/live-door.ts';
import type { LiveSource } from '../../../../ingest/sources/live-source.ts';
import type { Clock } from '../../../../ingest/sources/modbus/_device-run.ts';
import type { ModbusConfig, ModbusDevice } from '../../../../ingest/sources/modbus/modbus-config.ts';
import type { LinkAnswer, ModbusLink } from '../../../../ingest/sources/modbus/modbus-link.ts';
import { createModbusSource } from '../../../../ingest/sources/modbus/modbus-source.ts';
import type { ReadingBatch } from '../../../../ingest/vocabulary/reading.ts';
import type { RegisterRead } from '../../../../ingest/wire/modbus/dialogue.ts';
import { parseProfile } from '../../../../ingest/wire/modbus/profile.ts';

/** A whole second of the clock, and a multiple of every interval that the tests use. */
export const START_MS = 1_772_000_000_000 - (1_772_000_000_000 % 60_000);

const UNIT_PROFILE =
  'profile: one\nregisters: [{ quantity: output_power_w, table: holding, address: 30, type: uint16 }]\n';
const PACK_PROFILE =
  'profile: two\nregisters: [{ quantity: pack_voltage_v, table: holding, address: 40, type: uint16 }]\n';

export function device(kind: 'unit' | 'pack', id: string, address: number): ModbusDevice {
  const { profile } = parseProfile(kind === 'unit' ? UNIT_PROFILE : PACK_PROFILE, 'test.yaml');
  return {
    name: `${id} at address ${address}`,
    address,
    config: { site: 'millpond', [kind]: id, reads: { profile: profile! } },
  };
}

/** How a device takes a request: ms until it answers; null: it does not. */
export type Manner = (
  address: number,
  atMs: number,
  read: RegisterRead,
) => { readonly ms: number; readonly exception?: number } | null;

export interface StoredReading {
  readonly id: string;
  readonly t: number;
}

export function readingsOf({ sources, rows, rowsLength }: ReadingBatch): StoredReading[] {
  const found: StoredReading[] = [];
  for (let at = 0; at < rowsLength; at += 3 + 2 * rows[at + 2]!)
    found.push({ id: sources[rows[at]!]!.id, t: rows[at + 1]! });
  return found;
}

export interface VirtualRun {
  readonly source: LiveSource;
  readonly stored: StoredReading[];
  readonly asked: { readonly address: number; readonly atMs: number }[];
  readonly lines: string[];
  /** Lets the source run for so long, by its own clock. */
  runFor(ms: number): Promise<void>;
}

export function virtualRun(
  devices: readonly ModbusDevice[],
  manner: Manner,
  options: { everyMs?: number; timeoutMs?: number; isDown?: (atMs: number) => boolean; door?: LiveDoor } = {},
): VirtualRun {
  const { everyMs = 10_000, timeoutMs = 1000, isDown = () => false } = options;
  let elapsed = 0;
  let limit = 0;
  let atLimit: (() => void) | null = null;
  let goOn: (() => void) | null = null;
  const pass = async (ms: number): Promise<void> => {
    // What was begun before is done before the time passes.
    await new Promise((resolve) => setImmediate(resolve));
    elapsed += ms;
    while (elapsed > limit) {
      const paused = new Promise<void>((resolve) => {
        goOn = resolve;
      });
      atLimit?.();
      await paused;
    }
  };
  const clock: Omit<Clock, 'nowMs'> = { elapsedMs: () => elapsed, wait: (ms) => pass(ms) };
  const stored: StoredReading[] = [];
  const asked: { address: number; atMs: number }[] = [];
  const lines: string[] = [];
  let isConnected = false;
  const read = async (address: number, asking: RegisterRead, onSent?: () => void): Promise<LinkAnswer> => {
    isConnected = !isDown(elapsed);
    if (!isConnected) {
      await pass(5);
      return { ok: false, exception: null, why: 'the connection is refused' };
    }
    asked.push({ address, atMs: elapsed });
    onSent?.();
    const taken = manner(address, elapsed, asking);
    await pass(taken === null ? timeoutMs : taken.ms);
    if (taken === null) return { ok: false, exception: null, why: `no answer within ${timeoutMs} ms` };
    if (taken.exception !== undefined)
      return { ok: false, exception: taken.exception, why: `exception ${taken.exception}` };
    return { ok: true, words: Uint16Array.from({ length: asking.count }, (_, i) => asking.address + i) };
  };
  const link: ModbusLink = {
    read,
    status: () => ({
      isConnected,
      since: null,
      trouble: isConnected ? null : 'the link is down',
      connections: 1,
      requests: asked.length,
      answers: 0,
      exceptions: 0,
      unanswered: 0,
      garbled: 0,
      strayBytes: 0,
      samples: [],
    }),
    close: async () => {
      limit = Number.POSITIVE_INFINITY;
      goOn?.();
    },
  };
  const config: ModbusConfig = {
    kind: 'modbus',
    name: 'modbus test',
    target: { kind: 'tcp', host: '127.0.0.1', port: 502 },
    everyMs,
    timeoutMs,
    devices,
  };
  const door: LiveDoor = options.door ?? {
    store: async (batch) => {
      stored.push(...readingsOf(batch));
      return { stored: batch.readings, alreadyThere: 0 };
    },
  };
  const source = createModbusSource(config, door, {
    nowMs: () => START_MS + elapsed,
    say: (line) => void lines.push(line),
    clock,
    openLink: () => link,
  });
  let isStarted = false;
  return {
    source,
    stored,
    asked,
    lines,
    async runFor(ms) {
      const reached = new Promise<void>((resolve) => {
        atLimit = resolve;
      });
      limit += ms;
      if (!isStarted) source.start();
      isStarted = true;
      goOn?.();
      await reached;
      await new Promise((resolve) => setImmediate(resolve));
    },
  };
}
