import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { DiskQueue } from '../../../../ingest/sources/courier/disk-queue.ts';
import { startForwarding } from '../../../../ingest/sources/courier/forward-loop.ts';
import type { Forwarder, SendOutcome } from '../../../../ingest/sources/courier/forwarder.ts';

const TAKEN: SendOutcome = { kind: 'taken', refusedCount: 0, refused: [] };
const LATER: SendOutcome = { kind: 'later', trouble: 'nothing listens there', atLeastMs: 0 };

let folder = '';
let queue: DiskQueue;
const said: string[] = [];
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-forward-'));
  said.length = 0;
  queue = new DiskQueue(folder, { maxBytes: 1e9, say: (line) => said.push(line), nowMs: Date.now });
});
afterEach(async () => {
  await queue.close();
  rmSync(folder, { recursive: true, force: true });
});

const line = (n: number): string => JSON.stringify({ t: n, site: 'millpond', unit: 'u1' });
const house = { say: (text: string) => said.push(text), random: () => 0, elapsedMs: () => performance.now() };

/** Answers what it is told, in turn, then takes everything. */
function forwarder(answers: (SendOutcome | ((lines: readonly string[]) => SendOutcome))[]) {
  const sent: number[][] = [];
  const made: Forwarder = {
    name: 'board.example',
    start: () => undefined,
    stop: async () => undefined,
    async send(lines) {
      sent.push(lines.map((text) => (JSON.parse(text) as { t: number }).t));
      const answer = answers.shift() ?? TAKEN;
      return typeof answer === 'function' ? answer(lines) : answer;
    },
  };
  return { made, sent };
}
const isEmpty = async (): Promise<void> => {
  while (queue.counts().waiting > 0) await new Promise((resolve) => setTimeout(resolve, 5));
};

describe('startForwarding', () => {
  test('the newest first, then the past, each line once', async () => {
    await queue.append(Array.from({ length: 1000 }, (_, n) => [line(n)]));
    const { made, sent } = forwarder([]);
    const loop = startForwarding(queue, made, house);
    await isEmpty();
    expect(sent[0]![0]).toBe(800);
    expect(sent.flat().sort((a, b) => a - b)).toEqual(Array.from({ length: 1000 }, (_, n) => n));
    await queue.append([[line(1000)]]);
    await isEmpty();
    await loop.stop();
    expect(sent.at(-1)).toEqual([1000]);
    expect(loop.counts()).toEqual({ sent: 1001, refused: 0, trouble: null });
  });

  test('a link that is down loses nothing, is said once, and what comes meanwhile goes first', async () => {
    await queue.append([[line(1)]]);
    const { made, sent } = forwarder([LATER, LATER]);
    const loop = startForwarding(queue, made, house);
    while (loop.counts().trouble === null) await new Promise((resolve) => setTimeout(resolve, 5));
    expect(loop.counts().trouble).toBe('nothing listens there');
    await queue.append([[line(2)]]);
    await isEmpty();
    await loop.stop();
    expect(sent.at(-1)).toEqual([1, 2]);
    expect(said.filter((text) => text.includes('nothing listens there'))).toHaveLength(1);
    expect(said.at(-1)).toBe('board.example: readings are sent again');
  });

  test('where a chunk is too large smaller ones are sent', async () => {
    await queue.append(Array.from({ length: 300 }, (_, n) => [line(n)]));
    const most = 60;
    const tooLarge = (lines: readonly string[]): SendOutcome =>
      lines.length > most ? { kind: 'smaller', trouble: 'too large' } : TAKEN;
    const { made, sent } = forwarder(Array.from({ length: 100 }, () => tooLarge));
    const loop = startForwarding(queue, made, house);
    await isEmpty();
    await loop.stop();
    const through = sent.filter((lines) => lines.length <= most).flat();
    expect(through.sort((a, b) => a - b)).toEqual(Array.from({ length: 300 }, (_, n) => n));
  });

  test('lines that the server refuses are counted and said, and do not stand in the way', async () => {
    await queue.append([[line(1)], [line(2)]]);
    const refused = [{ line: 1, what: 'the token may not write the site', remedy: 'add it to the token' }];
    const { made } = forwarder([{ kind: 'taken', refusedCount: 1, refused }]);
    const loop = startForwarding(queue, made, house);
    await isEmpty();
    await loop.stop();
    expect(loop.counts()).toMatchObject({ sent: 1, refused: 1 });
    expect(said).toEqual([expect.stringContaining('board.example refused 1 of 2 lines; the first: the token may not')]);
  });

  test('stops at once while it waits for a link', async () => {
    await queue.append([[line(1)]]);
    const { made, sent } = forwarder([{ ...LATER, atLeastMs: 3_600_000 }]);
    const loop = startForwarding(queue, made, house);
    while (sent.length === 0) await new Promise((resolve) => setTimeout(resolve, 5));
    await loop.stop();
    expect(queue.counts().waiting).toBe(1);
  });
});
