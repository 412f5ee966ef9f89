/**
 * The two framings of Modbus over a stream of bytes, in the shape that the library wants of a port. They are ours
 * because what must never happen is decided here: that bytes which are not the answer to this request pass for it.
 */
import { EventEmitter } from 'node:events';
import type { ByteStream } from './_byte-stream.ts';
import { crc16 } from './crc-16.ts';

/** A port as modbus-serial uses it, and what became of the bytes. */
export interface FramePort {
  readonly port: object;
  /** Whether part of a frame is waiting for its rest: the next answer would be read askew. */
  readonly isAskew: boolean;
  /** Bytes that were the answer to nothing, since the stream was opened. */
  readonly strayBytes: number;
  /** Of `performance.now()`; when the last byte came. */
  readonly lastByteAtMs: number;
  /** Nothing is waited for any more: what comes from now on is stray. */
  forget(): void;
}

interface Asked {
  readonly unit: number;
  readonly code: number;
  /** Data bytes of the answer. */
  readonly bytes: number;
}

/** Modbus application protocol V1.1b3, 6.1 to 6.4: read coils, discrete inputs, holding and input registers. */
const READS_FROM = 1;
const READS_TO = 4;
const MBAP_BYTES = 7;
/** Unit id and PDU: at least a unit, a function and an exception code. */
const MBAP_LENGTH_MIN = 3;
const MBAP_LENGTH_MAX = 254;
const RTU_MAX = 256;
/** Noise that is kept while an answer is waited for; more is dropped from its front. */
const NOISE_MAX = 2 * RTU_MAX;

function askedBy(frame: Uint8Array): Asked {
  const view = new DataView(frame.buffer, frame.byteOffset, frame.byteLength);
  const code = view.getUint8(1);
  // Kilter reads; whatever were asked for, nothing else goes out to a device.
  if (code < READS_FROM || code > READS_TO) throw new RangeError(`Cannot send function ${code}: only 1 to 4 read`);
  const count = view.getUint16(4);
  return { unit: view.getUint8(0), code, bytes: code <= 2 ? Math.ceil(count / 8) : count * 2 };
}

/** What the library calls of a port. It is open as long as its stream is. */
function libraryPort(stream: ByteStream, events: EventEmitter, write: (frame: Uint8Array) => void): object {
  return {
    // The library looks an answer up by this number: one request is in flight, so it need not change.
    _transactionIdRead: 1,
    _transactionIdWrite: 1,
    on: events.on.bind(events),
    once: events.once.bind(events),
    removeListener: events.removeListener.bind(events),
    open: (done: () => void) => done(),
    close: (done?: () => void) => done?.(),
    destroy: () => undefined,
    write,
    get isOpen() {
      return stream.isOpen;
    },
  };
}

function withCrc(message: Uint8Array): Buffer {
  const frame = Buffer.alloc(message.length + 2);
  frame.set(message);
  frame.writeUInt16LE(crc16(message), message.length);
  return frame;
}

/**
 * Modbus TCP. An answer has the transaction, the unit and protocol 0; others are dropped. A header that can't be one
 * closes the stream: nothing behind it could be trusted.
 */
export function mbapPort(stream: ByteStream): FramePort {
  const events = new EventEmitter();
  let held = Buffer.alloc(0);
  let transaction = 0;
  let asked: Asked | null = null;
  let strayBytes = 0;
  let lastByteAtMs = 0;

  const take = (frame: Buffer): void => {
    const isAnswer = asked !== null && frame.readUInt16BE(0) === transaction && frame.readUInt8(6) === asked.unit;
    if (!isAnswer) {
      strayBytes += frame.length;
      return;
    }
    asked = null;
    events.emit('data', withCrc(frame.subarray(6)));
  };
  stream.onBytes((bytes) => {
    lastByteAtMs = performance.now();
    held = held.length === 0 ? Buffer.from(bytes) : Buffer.concat([held, bytes]);
    while (held.length >= MBAP_BYTES) {
      const length = held.readUInt16BE(4);
      if (held.readUInt16BE(2) !== 0 || length < MBAP_LENGTH_MIN || length > MBAP_LENGTH_MAX) {
        strayBytes += held.length;
        held = Buffer.alloc(0);
        void stream.close();
        return;
      }
      if (held.length < 6 + length) return;
      const frame = held.subarray(0, 6 + length);
      held = held.subarray(6 + length);
      take(frame);
    }
  });
  const write = (frame: Uint8Array): void => {
    asked = askedBy(frame);
    transaction = (transaction + 1) & 0xffff;
    const message = Buffer.alloc(6 + frame.length - 2);
    message.writeUInt16BE(transaction, 0);
    message.writeUInt16BE(frame.length - 2, 4);
    message.set(frame.subarray(0, -2), 6);
    stream.write(message);
  };
  return {
    port: libraryPort(stream, events, write),
    get isAskew() {
      return held.length > 0;
    },
    get strayBytes() {
      return strayBytes;
    },
    get lastByteAtMs() {
      return lastByteAtMs;
    },
    forget() {
      asked = null;
    },
  };
}

/** Where an answer to `asked` stands in `held`, with a right check sum; noise may stand before it. */
function findAnswer(held: Buffer, { unit, code, bytes }: Asked): { readonly at: number; readonly end: number } | null {
  for (let at = 0; at + 5 <= held.length; at += 1) {
    if (held[at] !== unit) continue;
    const isAnswer = held[at + 1] === code && held[at + 2] === bytes;
    const isException = held[at + 1] === (code | 0x80);
    if (!isAnswer && !isException) continue;
    const end = at + (isAnswer ? 5 + bytes : 5);
    if (end > held.length) continue;
    if (held.readUInt16LE(end - 2) === crc16(held.subarray(at, end - 2))) return { at, end };
  }
  return null;
}

/**
 * Modbus RTU, on a serial line or through a gateway. An answer has the unit, the function, the length that was asked
 * and a right check sum. RTU has no transaction numbers: what came before the request is forgotten when it is sent,
 * and late answers of the same length are kept apart by whoever asks.
 */
export function rtuPort(stream: ByteStream): FramePort {
  const events = new EventEmitter();
  let held = Buffer.alloc(0);
  let asked: Asked | null = null;
  let strayBytes = 0;
  let lastByteAtMs = 0;

  stream.onBytes((bytes) => {
    lastByteAtMs = performance.now();
    if (asked === null) {
      strayBytes += bytes.length;
      return;
    }
    held = Buffer.concat([held, bytes]);
    if (held.length > NOISE_MAX) {
      strayBytes += held.length - NOISE_MAX;
      held = held.subarray(held.length - NOISE_MAX);
    }
    const found = findAnswer(held, asked);
    if (found === null) return;
    const frame = Buffer.from(held.subarray(found.at, found.end));
    strayBytes += held.length - frame.length;
    held = Buffer.alloc(0);
    asked = null;
    events.emit('data', frame);
  });
  const forget = (): void => {
    strayBytes += held.length;
    held = Buffer.alloc(0);
    asked = null;
  };
  const write = (frame: Uint8Array): void => {
    forget();
    asked = askedBy(frame);
    stream.write(frame);
  };
  return {
    port: libraryPort(stream, events, write),
    // Every request begins with an empty buffer, so nothing is ever read askew.
    isAskew: false,
    get strayBytes() {
      return strayBytes;
    },
    get lastByteAtMs() {
      return lastByteAtMs;
    },
    forget,
  };
}
