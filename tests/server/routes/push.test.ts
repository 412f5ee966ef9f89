import type { createServer } from 'node:http';
import { connect } from 'node:net';
import { gzipSync } from 'node:zlib';
import { createAdaptorServer } from '@hono/node-server';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createLiveDoor } from '../../../ingest/intake/live-door.ts';
import type { PushToken } from '../../../ingest/sources/push/push-config.ts';
import { PUSH_LIMITS, type PushLimits } from '../../../ingest/sources/push/push-limits.ts';
import { createPushSource, type PushSource } from '../../../ingest/sources/push/push-source.ts';
import { type Db, openStore } from '../../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../../ingest/store/reading-store.ts';
import { problemSchema } from '../../../server/contract/problem.ts';
import { pushAnswerSchema } from '../../../server/contract/push.ts';
import { at, dropFolder, millpondLines, storeLines } from '../../ingest/commands/_stored.ts';
import { openBoard, openHouse } from '../_board.ts';

const VALLEY: PushToken = { name: 'valley', token: 'river stone and moss', sites: ['millpond'] };
const HILL: PushToken = { name: 'hill', token: 'heather', sites: ['hilltop', 'millpond'] };
const NOW = at('10T09:00:00');

let folder = '';
let house: ReturnType<typeof openHouse>;
let db: Db;
let store: ReadingStore;
let board: ReturnType<typeof openBoard>;
let source: PushSource;
let elapsedMs = 0;
let clocks: unknown[] = [];

function open(
  tokens: readonly PushToken[] | null = [VALLEY, HILL],
  limits: PushLimits = PUSH_LIMITS,
  token: string | null = 'board token',
) {
  source = createPushSource(
    { kind: 'push', name: 'push', tokens },
    createLiveDoor(store),
    { nowMs: () => NOW, elapsedMs: () => elapsedMs, keepClock: (clock) => clocks.push(clock) },
    limits,
  );
  source.start();
  board = openBoard(house, { push: () => source, token });
}

beforeEach(() => {
  folder = storeLines(millpondLines());
  house = openHouse(folder, () => NOW);
  db = openStore(folder);
  store = createReadingStore(db);
  elapsedMs = 0;
  clocks = [];
  open();
});
afterEach(() => {
  board.close();
  db.close();
  house.close();
  dropFolder(folder);
});

const line = (second: number, site = 'millpond', watts = 1000 + second): string =>
  `${JSON.stringify({ t: at('10T08:30:00') + second * 1000, site, unit: 'u1', output_power_w: watts })}\n`;
const push = (
  body: string | Uint8Array<ArrayBuffer>,
  token: string | null = VALLEY.token,
  headers: Record<string, string> = {},
) =>
  board.ask('/api/readings', {
    method: 'POST',
    body,
    headers: {
      'Content-Type': 'application/x-ndjson',
      ...(token === null ? {} : { Authorization: `Bearer ${token}` }),
      ...headers,
    },
  });
const answer = async (response: Promise<Response>) => {
  const got = await response;
  expect(got.status).toBe(200);
  return pushAnswerSchema.parse(await got.json());
};
const problem = async (response: Promise<Response>) => {
  const got = await response;
  return { status: got.status, ...problemSchema.parse(await got.json()) };
};
const watts = (): number[] => {
  const { source: id } = store.sources('millpond').find((one) => one.kind === 'unit' && one.id === 'u1')!;
  const day = [...store.readBlocks(id, at('10T08:30:00'), at('10T08:59:59'))];
  return day.flatMap((block) => [...block.tMs].filter((t) => t >= at('10T08:30:00')));
};

describe('POST /api/readings', () => {
  test('stores what is good, names what is not by its line, and counts what is there', async () => {
    const body = `${line(1)}no json\n${line(2)}{"t":"2026-03-10T08:40:00Z","site":"millpond"}\n${line(3)}`;
    expect(await answer(push(body))).toMatchObject({
      stored: 3,
      already_there: 0,
      refused: [
        { line: 2, what: expect.stringContaining('no JSON') },
        { line: 4, what: 'the line names no source' },
      ],
      refused_count: 2,
      now: NOW,
    });
    expect(await answer(push(line(1) + line(2) + line(3) + line(4)))).toMatchObject({
      stored: 1,
      already_there: 3,
      refused: [],
    });
    expect(watts()).toHaveLength(4);
  });

  test('takes bodies packed with gzip, and lines without a last newline', async () => {
    const packed = new Uint8Array(gzipSync(line(1) + line(2).trimEnd()));
    expect(await answer(push(packed, VALLEY.token, { 'Content-Encoding': 'gzip' }))).toMatchObject({ stored: 2 });
  });

  test('lines of sites that the token may not write are refused one by one, the others stored', async () => {
    const got = await answer(push(`${line(1)}\n${line(2, 'hilltop')}${line(3)}`));
    expect([got.stored, got.refused]).toEqual([
      2,
      [
        {
          line: 3,
          what: 'the token of valley may not write the site hilltop',
          remedy: expect.stringContaining('millpond'),
        },
      ],
    ]);
    expect(await answer(push(line(2, 'hilltop'), HILL.token))).toMatchObject({ stored: 1 });
  });

  test('the list of refused lines is bounded, their number is not', async () => {
    const got = await answer(push('x\n'.repeat(250)));
    expect([got.refused.length, got.refused_count]).toEqual([100, 250]);
    expect(source.status()).toMatchObject({ refused: 250, readings: 0 });
    expect(source.status().samples).toHaveLength(20);
  });

  test('without a token, with a wrong one, with the board’s: told apart, and nothing is stored', async () => {
    const none = await push(line(1), null);
    expect([none.status, none.headers.get('WWW-Authenticate')]).toEqual([401, 'Bearer realm="readings"']);
    expect(await problem(push(line(1), 'river stone and mos'))).toMatchObject({ status: 401, id: 'not_allowed' });
    expect(await problem(push(line(1), 'board token'))).toMatchObject({ status: 403, id: 'not_permitted' });
    expect(watts()).toEqual([]);
  });

  test('a token of the push source opens nothing else', async () => {
    const read = await board.ask('/api/fleet', { headers: { Authorization: `Bearer ${VALLEY.token}` } });
    expect(read.status).toBe(401);
  });

  test('where no tokens are configured the board’s own holds, and on loopback without one none is needed', async () => {
    open(null);
    expect(await problem(push(line(1), null))).toMatchObject({ status: 401 });
    expect(await answer(push(line(1), 'board token'))).toMatchObject({ stored: 1 });
    open(null, PUSH_LIMITS, null);
    expect(await answer(push(line(2), null))).toMatchObject({ stored: 1 });
    // But never a page in a browser, which could write though it can't read the answer.
    expect(
      await problem(push(line(3), null, { Origin: 'http://elsewhere.example', 'Content-Type': 'text/plain' })),
    ).toMatchObject({ status: 403 });
  });

  test('types and packings that are none of ours are 415', async () => {
    expect(await problem(push(line(1), VALLEY.token, { 'Content-Type': 'image/png' }))).toMatchObject({
      status: 415,
      id: 'wrong_type',
    });
    expect(await problem(push(line(1), VALLEY.token, { 'Content-Encoding': 'br' }))).toMatchObject({ status: 415 });
  });

  test('a body that is too large is refused whole, packed or unpacked', async () => {
    open([VALLEY], { ...PUSH_LIMITS, bodyMaxBytes: 10_000 });
    const large = Array.from({ length: 200 }, (_, k) => line(k)).join('');
    expect(await problem(push(large))).toMatchObject({ status: 413, id: 'too_large' });
    const bomb = new Uint8Array(gzipSync(Buffer.alloc(5_000_000)));
    expect(bomb.length).toBeLessThan(10_000);
    expect(await problem(push(bomb, VALLEY.token, { 'Content-Encoding': 'gzip' }))).toMatchObject({ status: 413 });
    expect(watts()).toEqual([]);
    expect(source.status().parts).toMatchObject([
      { name: 'valley', isAnswering: false, trouble: expect.stringContaining('too large') },
    ]);
  });

  test('gzip that is damaged or ends early stores nothing', async () => {
    const whole = gzipSync(Array.from({ length: 5000 }, (_, k) => line(k, 'millpond', (k * 7919) % 9973)).join(''));
    const cut = new Uint8Array(whole.subarray(0, whole.length / 2));
    const packed = { 'Content-Encoding': 'gzip' };
    expect(await problem(push(cut, VALLEY.token, packed))).toMatchObject({
      status: 400,
      what: expect.stringContaining('ends early; nothing'),
    });
    expect(await problem(push('no gzip', VALLEY.token, packed))).toMatchObject({ status: 400 });
    expect(watts()).toEqual([]);
    expect(await answer(push(new Uint8Array(whole), VALLEY.token, packed))).toMatchObject({ stored: 5000 });
  });

  test('who asks too often waits; others do not', async () => {
    open([VALLEY, HILL], { ...PUSH_LIMITS, burst: 3, perSecond: 1 });
    for (let k = 0; k < 3; k++) expect((await push(line(k))).status).toBe(200);
    const refused = await push(line(3));
    expect([refused.status, refused.headers.get('Retry-After')]).toEqual([429, '1']);
    expect((await push(line(3), HILL.token)).status).toBe(200);
    elapsedMs += 1000;
    expect((await push(line(4))).status).toBe(200);
  });

  test('what a courier says of its clock is kept', async () => {
    await answer(push(line(1), VALLEY.token, { 'Kilter-Courier': 'garden', 'Kilter-Clock-Offset-Ms': '-3600500' }));
    await answer(push(line(2), VALLEY.token, { 'Kilter-Courier': 'garden' }));
    expect(clocks).toEqual([
      { name: 'garden', at: NOW, offsetMs: -3_600_500 },
      { name: 'garden', at: NOW, offsetMs: null },
    ]);
  });

  test('without a push source the address says how to have one', async () => {
    board = openBoard(house, { push: () => null });
    expect(await problem(push(line(1)))).toMatchObject({ status: 404, remedy: expect.stringContaining('kind: push') });
  });

  test('the API description has it', async () => {
    board = openBoard(house, { push: () => source });
    const described = (await (await board.ask('/api/openapi.json')).json()) as {
      paths: Record<string, Record<string, unknown>>;
    };
    expect(described.paths['/api/readings']).toHaveProperty('post');
    expect(described.paths['/api/sources']).toHaveProperty('get');
  });
});

describe('over a socket', () => {
  test('a body that is cut off in the middle stores nothing, and may be sent again', async () => {
    const server = createAdaptorServer({ fetch: board.app.fetch }) as ReturnType<typeof createServer>;
    const port = await new Promise<number>((resolve) => {
      server.listen(0, '127.0.0.1', () => resolve((server.address() as { port: number }).port));
    });
    const body = Array.from({ length: 50 }, (_, k) => line(k)).join('');
    const socket = connect(port, '127.0.0.1');
    const head = `POST /api/readings HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer ${VALLEY.token}\r\nContent-Type: application/x-ndjson\r\nContent-Length: ${body.length}\r\n\r\n`;
    await new Promise<void>((resolve) => socket.write(head + body.slice(0, 2000), () => resolve()));
    // It is cut off once the server has begun to read it.
    await new Promise((resolve) => setTimeout(resolve, 50));
    socket.destroy();
    const isCut = async (): Promise<void> => {
      while (source.status().parts[0]?.trouble === null) await new Promise((resolve) => setTimeout(resolve, 10));
    };
    await isCut();
    expect(source.status().parts[0]?.trouble).toContain('broke off');
    expect(watts()).toEqual([]);
    const whole = await fetch(`http://127.0.0.1:${port}/api/readings`, {
      method: 'POST',
      body,
      headers: { Authorization: `Bearer ${VALLEY.token}` },
    });
    expect(pushAnswerSchema.parse(await whole.json())).toMatchObject({ stored: 50 });
    server.closeAllConnections();
    await new Promise((resolve) => server.close(resolve));
  });
});
