/**
 * A Modbus link that only reads. The only file that knows modbus-serial's client, and it uses four functions of it:
 * nothing that writes to a device can be reached from here.
 */
import { randomInt } from 'node:crypto';
import modbusSerial from 'modbus-serial';
import type { Refusal } from '../../vocabulary/refusal.ts';
import type { RefusalSample } from '../../vocabulary/source-status.ts';
import { type EpochMs, epochMs } from '../../vocabulary/time.ts';
import type { RegisterRead } from '../../wire/modbus/dialogue.ts';
import { type ByteStream, openStream } from './_byte-stream.ts';
import { type FramePort, mbapPort, rtuPort } from './_frame-port.ts';
import { answerBytes, isBits } from './_late-answers.ts';
import { RequestLane, type Wire, type WireAnswer } from './_request-lane.ts';
import { lineTimeMs, type ModbusTarget, type SerialTarget, sayTarget } from './modbus-target.ts';

export interface LinkOptions {
  /** How long a device may take for an answer. On a serial line the time on the wire is added. */
  readonly timeoutMs: number;
  /** How long a connection may take to open. */
  readonly connectMs?: number;
}

export interface LinkHouse {
  readonly nowMs: () => number;
  /** In [0, 1), for the jitter of back-off; by default from the system's own source. */
  readonly random?: () => number;
  /** Told of each answer that came and can't be trusted. */
  readonly refused?: (refusal: Refusal) => void;
}

/** As `ReadAnswer`, and in words what went wrong. */
export type LinkAnswer =
  | { readonly ok: true; readonly words: Uint16Array }
  | { readonly ok: false; readonly exception: number | null; readonly why: string };

export interface LinkStatus {
  readonly isConnected: boolean;
  /** Since when it is, or is not; null before the first attempt. */
  readonly since: EpochMs | null;
  readonly trouble: string | null;
  /** Connections made; each is a new client. */
  readonly connections: number;
  readonly requests: number;
  readonly answers: number;
  readonly exceptions: number;
  /** Requests without an answer that could be trusted in time. */
  readonly unanswered: number;
  /** Those of them to which something came that is no such answer. */
  readonly garbled: number;
  /** Bytes that were the answer to nothing: late answers, noise. */
  readonly strayBytes: number;
  /** The newest unanswered requests, at most 20. */
  readonly samples: readonly RefusalSample[];
}

export interface ModbusLink {
  /**
   * Asks one device; the answer is never that of another request. Resolves within the time-out once it is sent.
   *
   * @param unitAddress  0 to 255
   * @param onSent       called when the request goes out
   * @throws RangeError where more is asked than the protocol allows
   */
  read(unitAddress: number, read: RegisterRead, onSent?: () => void): Promise<LinkAnswer>;
  status(): LinkStatus;
  /** Answers what waits, and closes; never hangs. */
  close(): Promise<void>;
}

/** Modbus application protocol V1.1b3, 6.1 to 6.4. */
const MOST_REGISTERS = 125;
const MOST_BITS = 2000;
const DEFAULT_CONNECT_MS = 3000;
const MOST_SAMPLES = 20;
/** Modbus over serial line V1.02, 2.5.1.1: frames stand 3.5 characters apart, 1.75 ms at least. */
const SILENCE_CHARACTERS = 3.5;
const SILENCE_LEAST_MS = 2;
/** Of a request, and of an answer beyond its data. */
const FRAME_BYTES = 8;
const ANSWER_FRAME_BYTES = 5;
const NOT_ANSWERED_BY_THE_DEVICE: ReadonlySet<number> = new Set([0x0a, 0x0b]);

type Client = InstanceType<typeof modbusSerial.default>;

/** The four reads, and nothing else of the client. */
function request(client: Client, { table, address, count }: RegisterRead): Promise<{ readonly buffer: Buffer }> {
  if (table === 'holding') return client.readHoldingRegisters(address, count);
  if (table === 'input') return client.readInputRegisters(address, count);
  if (table === 'coil') return client.readCoils(address, count);
  return client.readDiscreteInputs(address, count);
}

/** The words of an answer; null where it is not as long as what was asked. */
function wordsOf(read: RegisterRead, data: Buffer): Uint16Array | null {
  if (data.length !== answerBytes(read)) return null;
  if (isBits(read)) return Uint16Array.from({ length: read.count }, (_, i) => (data[i >> 3]! >> (i & 7)) & 1);
  return Uint16Array.from({ length: read.count }, (_, i) => data.readUInt16BE(i * 2));
}

function failed(error: unknown): WireAnswer {
  const code = typeof error === 'object' && error !== null ? Reflect.get(error, 'modbusCode') : undefined;
  if (typeof code === 'number') return { kind: 'exception', code };
  return { kind: 'garbled', why: error instanceof Error ? error.message : String(error) };
}

/** Resolves after `ms`, and after whatever has arrived by then was looked at: a busy process is no silent device. */
function deadline(ms: number): { readonly passed: Promise<void>; stop(): void } {
  let timer: NodeJS.Timeout | undefined;
  const passed = new Promise<void>((resolve) => {
    timer = setTimeout(() => setImmediate(() => setImmediate(resolve)), ms);
  });
  return { passed, stop: () => clearTimeout(timer) };
}

const pause = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

function wireOver(stream: ByteStream, frames: FramePort, target: ModbusTarget, timeoutMs: number): Wire {
  const client = new modbusSerial.default(frames.port);
  // The library speaks of errors of its port here; the stream says the same with its reason.
  client.on('error', () => undefined);
  client.open(() => undefined);
  let tellClosed: (why: string) => void = () => undefined;
  const closed = new Promise<WireAnswer>((resolve) => {
    tellClosed = (why) => resolve({ kind: 'closed', why });
  });
  stream.onClosed(tellClosed);
  const betweenMs = target.kind === 'serial' ? silenceMs(target) : 0;

  const settle = async (quietMs: number): Promise<void> => {
    frames.forget();
    const giveUpMs = performance.now() + 10 * quietMs;
    let leftMs = quietMs;
    while (leftMs > 0 && stream.isOpen && performance.now() < giveUpMs) {
      await pause(Math.ceil(leftMs));
      leftMs = frames.lastByteAtMs + quietMs - performance.now();
    }
  };
  const ask = async (unit: number, read: RegisterRead): Promise<WireAnswer> => {
    if (betweenMs > 0) await pause(betweenMs);
    if (!stream.isOpen) return closed;
    const onLineMs =
      target.kind === 'serial' ? lineTimeMs(target, FRAME_BYTES + ANSWER_FRAME_BYTES + answerBytes(read)) : 0;
    const waitMs = Math.ceil(timeoutMs + onLineMs);
    // Ours decides; the library's own is there so that it forgets the request.
    client.setTimeout(waitMs + 1000);
    client.setID(unit);
    const strayBefore = frames.strayBytes;
    const answer = request(client, read).then(({ buffer }): WireAnswer => {
      const words = wordsOf(read, buffer);
      if (words !== null) return { kind: 'words', words };
      return { kind: 'garbled', why: `the answer has ${buffer.length} bytes of data, not ${answerBytes(read)}` };
    }, failed);
    const limit = deadline(waitMs);
    const late = limit.passed.then((): WireAnswer => {
      frames.forget();
      const stray = frames.strayBytes - strayBefore;
      const others = stray > 0 || frames.isAskew ? ', though something came' : '';
      return { kind: others === '' ? 'silence' : 'garbled', why: `no answer within ${waitMs} ms${others}` };
    });
    try {
      return await Promise.race([answer, closed, late]);
    } finally {
      limit.stop();
      frames.forget();
    }
  };
  return {
    get isOpen() {
      return stream.isOpen;
    },
    get isAskew() {
      return frames.isAskew;
    },
    ask,
    settle,
    close: async () => {
      tellClosed('the link is closed');
      client.destroy(() => undefined);
      await stream.close();
    },
  };
}

function silenceMs(target: SerialTarget): number {
  return Math.ceil(Math.max(SILENCE_LEAST_MS, lineTimeMs(target, SILENCE_CHARACTERS)));
}

function requireRead(unitAddress: number, read: RegisterRead): void {
  const { address, count } = read;
  const most = isBits(read) ? MOST_BITS : MOST_REGISTERS;
  if (!Number.isInteger(unitAddress) || unitAddress < 0 || unitAddress > 255)
    throw new RangeError(`Cannot ask unit address ${unitAddress}: expected 0 to 255`);
  if (!Number.isInteger(count) || count < 1 || count > most)
    throw new RangeError(`Cannot ask for ${count} of table ${read.table} at once: 1 to ${most} can be`);
  if (!Number.isInteger(address) || address < 0 || address + count > 65_536)
    throw new RangeError(`Cannot ask for ${count} at ${address}: addresses end at 65535`);
}

const SAY_EXCEPTION: Readonly<Record<number, string>> = {
  1: 'the device does not know this function (exception 1)',
  2: 'the device has no such address (exception 2)',
  3: 'the device refuses this count (exception 3)',
  4: 'the device reports a failure (exception 4)',
  5: 'the device asks for time (exception 5)',
  6: 'the device is busy (exception 6)',
  10: 'the gateway has no path to the device (exception 10)',
  11: 'the gateway had no answer from the device (exception 11)',
};

const systemRandom = (): number => randomInt(2 ** 32) / 2 ** 32;

/** Connects when the first request comes, and again when it must. */
export function createModbusLink(target: ModbusTarget, options: LinkOptions, house: LinkHouse): ModbusLink {
  const { timeoutMs, connectMs = DEFAULT_CONNECT_MS } = options;
  let isConnected = false;
  let since: EpochMs | null = null;
  let trouble: string | null = null;
  let strayBefore = 0;
  let frames: FramePort | null = null;
  const counts = { connections: 0, requests: 0, answers: 0, exceptions: 0, unanswered: 0, garbled: 0 };
  let samples: RefusalSample[] = [];

  const open = async (): Promise<Wire> => {
    const stream = await openStream(target, connectMs);
    strayBefore += frames?.strayBytes ?? 0;
    frames = target.kind === 'tcp' ? mbapPort(stream) : rtuPort(stream);
    counts.connections += 1;
    return wireOver(stream, frames, target, timeoutMs);
  };
  const lane = new RequestLane({
    timeoutMs,
    canConfuse: target.kind !== 'tcp',
    open,
    random: house.random ?? systemRandom,
    onConnection: (isOpen, why) => {
      if (isOpen !== isConnected || since === null) since = epochMs(house.nowMs());
      isConnected = isOpen;
      trouble = why === null ? null : `${sayTarget(target)}: ${why}`;
    },
  });

  const said = (unitAddress: number, answer: WireAnswer): LinkAnswer => {
    if (answer.kind === 'words') {
      counts.answers += 1;
      return { ok: true, words: answer.words };
    }
    const isOfDevice = answer.kind === 'exception' && !NOT_ANSWERED_BY_THE_DEVICE.has(answer.code);
    const why = answer.kind === 'exception' ? (SAY_EXCEPTION[answer.code] ?? `exception ${answer.code}`) : answer.why;
    if (isOfDevice) {
      counts.exceptions += 1;
      return { ok: false, exception: answer.code, why };
    }
    counts.unanswered += 1;
    const where = `address ${unitAddress}`;
    const remedy = 'check the device, its address and the line to it; it is asked again';
    if (answer.kind === 'garbled') {
      counts.garbled += 1;
      house.refused?.({ where, what: why, remedy });
    }
    samples = [...samples.slice(1 - MOST_SAMPLES), { at: epochMs(house.nowMs()), where, what: why, remedy }];
    return { ok: false, exception: null, why };
  };

  return {
    async read(unitAddress, read, onSent) {
      requireRead(unitAddress, read);
      counts.requests += 1;
      return said(unitAddress, await lane.ask(unitAddress, read, onSent));
    },
    status: () => ({
      isConnected,
      since,
      trouble,
      ...counts,
      strayBytes: strayBefore + (frames?.strayBytes ?? 0),
      samples,
    }),
    close: () => lane.close(),
  };
}
