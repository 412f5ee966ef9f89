/** A Modbus device of the tests' own that keeps or breaks every rule, as its script says; over TCP, either framing. */
import { createServer, type Server, type Socket } from 'node:net';

export interface ScriptedRequest {
  readonly unit: number;
  readonly code: number;
  readonly address: number;
  readonly count: number;
  /** Of MBAP; 0 with RTU. */
  readonly transaction: number;
  /** Requests so far, from 1, over all connections. */
  readonly number: number;
  /** Connections so far, from 1. */
  readonly connection: number;
  readonly socket: Socket;
}

export type Framing = 'tcp' | 'rtu';
/** What the device does with a request: usually it sends `peer.answer(request, words)`. */
export type Script = (request: ScriptedRequest, peer: ScriptedPeer) => void;

export interface ScriptedPeer {
  readonly port: number;
  readonly requests: readonly ScriptedRequest[];
  readonly connections: number;
  /** The frame of a right answer. */
  answer(request: ScriptedRequest, words: readonly number[]): Buffer;
  exception(request: ScriptedRequest, code: number): Buffer;
  /** Any message (unit, function, data) in this peer's framing. */
  frame(message: Uint8Array, transaction: number): Buffer;
  /** Where the newest connection ends: what a serial gateway does with bytes that come late. */
  sendToNewest(bytes: Uint8Array): void;
  script: Script;
  stop(): Promise<void>;
}

/** Bit by bit, unlike the one that is tested. */
export function slowCrc(bytes: Uint8Array): number {
  let crc = 0xffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit += 1) crc = crc & 1 ? (crc >> 1) ^ 0xa001 : crc >> 1;
  }
  return crc;
}

/** Each register holds 1000 × unit + its address, so that an answer tells what it is the answer to. */
export const valueAt = (unit: number, address: number): number => (unit * 1000 + address) & 0xffff;
export const valuesOf = ({ unit, address, count }: Pick<ScriptedRequest, 'unit' | 'address' | 'count'>): number[] =>
  Array.from({ length: count }, (_, i) => valueAt(unit, address + i));

export const answerAtOnce: Script = (request, peer) => {
  request.socket.write(peer.answer(request, valuesOf(request)));
};

function framed(framing: Framing, message: Uint8Array, transaction: number): Buffer {
  if (framing === 'rtu') {
    const crc = slowCrc(message);
    return Buffer.from([...message, crc & 0xff, crc >> 8]);
  }
  const head = Buffer.alloc(6);
  head.writeUInt16BE(transaction & 0xffff, 0);
  head.writeUInt16BE(message.length, 4);
  return Buffer.concat([head, message]);
}

/** Takes whole requests off the front of `held`; a read is always 6 bytes and its framing. */
function takeRequests(framing: Framing, held: Buffer): { readonly requests: Buffer[]; readonly rest: Buffer } {
  const length = framing === 'tcp' ? 12 : 8;
  const requests: Buffer[] = [];
  while (held.length >= length) {
    requests.push(held.subarray(0, length));
    held = held.subarray(length);
  }
  return { requests, rest: held };
}

export async function startScriptedModbus(framing: Framing, script: Script = answerAtOnce): Promise<ScriptedPeer> {
  const requests: ScriptedRequest[] = [];
  const sockets = new Set<Socket>();
  let connections = 0;
  let newest: Socket | null = null;
  const server: Server = createServer((socket) => {
    connections += 1;
    const connection = connections;
    newest = socket;
    sockets.add(socket);
    socket.on('error', () => undefined);
    socket.on('close', () => sockets.delete(socket));
    let held = Buffer.alloc(0);
    socket.on('data', (bytes) => {
      const taken = takeRequests(framing, Buffer.concat([held, bytes]));
      held = Buffer.from(taken.rest);
      for (const whole of taken.requests) {
        const at = framing === 'tcp' ? 6 : 0;
        const request: ScriptedRequest = {
          unit: whole[at]!,
          code: whole[at + 1]!,
          address: whole.readUInt16BE(at + 2),
          count: whole.readUInt16BE(at + 4),
          transaction: framing === 'tcp' ? whole.readUInt16BE(0) : 0,
          number: requests.length + 1,
          connection,
          socket,
        };
        requests.push(request);
        peer.script(request, peer);
      }
    });
  });
  const peer: ScriptedPeer = {
    get port() {
      const address = server.address();
      return typeof address === 'object' && address !== null ? address.port : 0;
    },
    requests,
    get connections() {
      return connections;
    },
    script,
    frame: (message, transaction) => framed(framing, message, transaction),
    answer({ unit, code, transaction }, words) {
      const isBits = code <= 2;
      const data = Buffer.alloc(isBits ? Math.ceil(words.length / 8) : words.length * 2);
      words.forEach((word, i) => {
        if (isBits) data[i >> 3]! |= (word & 1) << (i & 7);
        else data.writeUInt16BE(word, i * 2);
      });
      return framed(framing, Buffer.from([unit, code, data.length, ...data]), transaction);
    },
    exception: ({ unit, code, transaction }, number) =>
      framed(framing, Buffer.from([unit, code | 0x80, number]), transaction),
    sendToNewest: (bytes) => void newest?.write(bytes),
    stop: () =>
      new Promise((resolve) => {
        for (const socket of sockets) socket.destroy();
        server.close(() => resolve());
      }),
  };
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return peer;
}
