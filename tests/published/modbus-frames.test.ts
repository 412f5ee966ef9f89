/** Frames of the Modbus specifications, on the wire as our link sends and takes them. */
import { createServer, type Socket } from 'node:net';
import { afterEach, describe, expect, test } from 'vitest';
import { crc16 } from '../../ingest/sources/modbus/crc-16.ts';
import { createModbusLink } from '../../ingest/sources/modbus/modbus-link.ts';
import type { RegisterTable } from '../../ingest/wire/modbus/dialogue.ts';

const bytesOf = (hex: string): Buffer => Buffer.from(hex.replaceAll(' ', ''), 'hex');

const CRCS = [
  {
    source: 'CRC-16/MODBUS check value of "123456789", CRC parameter tables',
    bytes: Buffer.from('123456789'),
    crc: 0x4b37,
  },
  { source: 'CRC-16/MODBUS of nothing: its initial value', bytes: Buffer.alloc(0), crc: 0xffff },
  { source: 'CRC-16/MODBUS test vector [00], public test files', bytes: bytesOf('00'), crc: 0x40bf },
  { source: 'CRC-16/MODBUS test vector [03 03], public test files', bytes: bytesOf('03 03'), crc: 0x4141 },
  { source: 'serial line guide V1.02, CRC example 02 07, unverified', bytes: bytesOf('02 07'), crc: 0x1241 },
] as const;

const FRAMES: readonly {
  readonly source: string;
  readonly framing: 'rtu_over_tcp' | 'tcp';
  readonly unit: number;
  readonly table: RegisterTable;
  readonly address: number;
  readonly count: number;
  readonly sent: string;
  readonly answer: string;
  readonly words: readonly number[] | number;
}[] = [
  {
    source: 'RTU read of holding registers 107 to 109, test suites citing the specification',
    framing: 'rtu_over_tcp',
    unit: 0x11,
    table: 'holding',
    address: 0x6b,
    count: 3,
    sent: '11 03 00 6B 00 03 76 87',
    answer: '11 03 06 AE 41 56 52 43 40 49 AD',
    words: [0xae41, 0x5652, 0x4340],
  },
  {
    source: 'RTU read of unit 1, public test suites',
    framing: 'rtu_over_tcp',
    unit: 1,
    table: 'holding',
    address: 0x6b,
    count: 3,
    sent: '01 03 00 6B 00 03 74 17',
    answer: '01 03 06 00 2A 00 64 01 00 78 FC',
    words: [42, 100, 256],
  },
  {
    source: 'RTU read of coils 20 to 38: the least significant bit of CD is coil 20; application protocol V1.1b3, 6.1',
    framing: 'rtu_over_tcp',
    unit: 0x11,
    table: 'coil',
    address: 0x13,
    count: 19,
    sent: '11 01 00 13 00 13 8E 92',
    answer: '11 01 03 CD 6B 05 40 12',
    words: [1, 0, 1, 1, 0, 0, 1, 1, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1],
  },
  {
    source: 'application protocol V1.1b3, 6.3: 555, 0, 100, unverified; MBAP as of the TCP guide V1.0b',
    framing: 'tcp',
    unit: 0x11,
    table: 'holding',
    address: 0x6b,
    count: 3,
    sent: '00 01 00 00 00 06 11 03 00 6B 00 03',
    answer: '00 01 00 00 00 09 11 03 06 02 2B 00 00 00 64',
    words: [555, 0, 100],
  },
  {
    source: 'application protocol V1.1b3, 6.2: discrete inputs 197 to 218, unverified',
    framing: 'tcp',
    unit: 1,
    table: 'discrete',
    address: 0xc4,
    count: 22,
    sent: '00 01 00 00 00 06 01 02 00 C4 00 16',
    answer: '00 01 00 00 00 06 01 02 03 AC DB 35',
    words: [0, 0, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1, 0, 1, 1],
  },
  {
    source: 'application protocol V1.1b3, 6.4: input register 9 holds 10, unverified',
    framing: 'tcp',
    unit: 1,
    table: 'input',
    address: 8,
    count: 1,
    sent: '00 01 00 00 00 06 01 04 00 08 00 01',
    answer: '00 01 00 00 00 05 01 04 02 00 0A',
    words: [10],
  },
  {
    source: 'application protocol V1.1b3, 7: coil 1186 that is not there, exception 2, unverified',
    framing: 'tcp',
    unit: 0x0a,
    table: 'coil',
    address: 0x04a1,
    count: 1,
    sent: '00 01 00 00 00 06 0A 01 04 A1 00 01',
    answer: '00 01 00 00 00 03 0A 81 02',
    words: 2,
  },
];

const toClose: (() => Promise<unknown>)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0)) await close();
});

describe('crc16', () => {
  test.each(CRCS)('agrees with $source', ({ bytes, crc }) => {
    expect(crc16(bytes)).toBe(crc);
  });
});

describe('createModbusLink', () => {
  test.each(FRAMES)(
    'sends and takes $source',
    async ({ framing, unit, table, address, count, sent, answer, words }) => {
      let received = Buffer.alloc(0);
      const server = createServer((socket: Socket) => {
        socket.on('data', (bytes) => {
          received = Buffer.concat([received, bytes]);
          socket.write(bytesOf(answer));
        });
      });
      await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
      const { port } = server.address() as { port: number };
      const link = createModbusLink(
        { kind: framing, host: '127.0.0.1', port },
        { timeoutMs: 1000 },
        { nowMs: Date.now },
      );
      toClose.push(
        () => link.close(),
        () => new Promise((resolve) => server.close(resolve)),
      );
      const read = await link.read(unit, { table, address, count });
      expect(received.toString('hex')).toBe(bytesOf(sent).toString('hex'));
      if (read.ok) expect([...read.words]).toEqual(words);
      else expect(read.exception).toBe(words);
    },
  );
});
