import { appendFileSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { DiskQueue, type PickedRecords } from '../../../../ingest/sources/courier/disk-queue.ts';

let folder = '';
let said: string[] = [];
let nowMs = 0;
const open = (maxBytes = 64 * 1024 * 1024, segmentBytes = 4096): DiskQueue =>
  new DiskQueue(folder, { maxBytes, segmentBytes, say: (line) => said.push(line), nowMs: () => nowMs });
const line = (n: number, unit = 'u1'): string =>
  JSON.stringify({ t: n * 1000, site: 'millpond', unit, output_power_w: (n * 7919) % 10_007, dc_voltage_v: 52.1 });
const numbers = (picked: PickedRecords | null): number[] =>
  (picked?.lines ?? []).map((text) => (JSON.parse(text) as { t: number }).t / 1000);
const drain = (queue: DiskQueue, most = 50): number[][] => {
  const chunks: number[][] = [];
  for (let picked = queue.pick(most); picked !== null; picked = queue.pick(most)) {
    chunks.push(numbers(picked));
    queue.sent(picked);
  }
  return chunks;
};
const range = (from: number, to: number): number[] => Array.from({ length: to - from }, (_, k) => from + k);

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-queue-'));
  said = [];
  nowMs = 1_700_000_000_000;
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('DiskQueue', () => {
  test('newest first in chunks, each chunk in the order of its lines, each line once', async () => {
    const queue = open();
    for (let n = 0; n < 300; n += 10) await queue.append(range(n, n + 10).map((k) => [line(k)]));
    const chunks = drain(queue);
    expect(chunks[0]).toEqual(range(250, 300));
    expect(chunks.flat().sort((a, b) => a - b)).toEqual(range(0, 300));
    expect(queue.pick(10)).toBeNull();
    await queue.close();
  });

  test('notes of a segment that is gone say nothing of the next one of its name', async () => {
    // A process that ended between the removal of a segment and of its notes.
    writeFileSync(join(folder, '000000000001.0.sent'), Buffer.from([1, 0, 0, 0, 2, 0, 0, 0]));
    const first = open();
    await first.append([[line(1)], [line(2)]]);
    await first.close();
    expect(numbers(open().pick(9))).toEqual([1, 2]);
  });

  test('a note that was cut off, or never reached the disk, says nothing, and shifts none behind it', async () => {
    const first = open();
    await first.append(range(0, 9).map((n) => [line(n)]));
    first.sent(first.pick(1)!);
    const notes = join(folder, readdirSync(folder).find((file) => file.endsWith('.sent'))!);
    appendFileSync(notes, Buffer.from([0, 0, 0, 0, 3, 0]));
    first.sent(first.pick(1)!);
    await first.close();
    expect(numbers(open().pick(9))).toEqual(range(0, 7));
  });

  test('what comes while older lines wait is sent before them', async () => {
    const queue = open();
    await queue.append(range(0, 100).map((n) => [line(n)]));
    const first = queue.pick(20)!;
    await queue.append([[line(100)]]);
    expect(numbers(queue.pick(2))).toEqual([79, 100]);
    queue.release(first);
    expect(numbers(queue.pick(3))).toEqual([97, 98, 99]);
    await queue.close();
  });

  test('another process finds all that was not sent, and none of what was', async () => {
    const first = open();
    for (const n of range(0, 200)) await first.append([[line(n)]]);
    first.sent(first.pick(70)!);
    const onItsWay = first.pick(30)!;
    expect(onItsWay.lines).toHaveLength(30);
    await first.close();
    const second = open();
    expect(second.counts().waiting).toBe(130);
    expect(
      drain(second)
        .flat()
        .sort((a, b) => a - b),
    ).toEqual(range(0, 130));
    await second.close();
    expect(readdirSync(folder)).toEqual([]);
  });

  test('appends that wait together are all on disk when they resolve', async () => {
    const queue = open();
    await Promise.all(range(0, 50).map((n) => queue.append([[line(n)]])));
    // Read by another before anything was closed.
    expect(open().counts().waiting).toBe(50);
    await queue.close();
  });

  test('a record that was being written when the process ended is no record, and those before it are whole', async () => {
    const queue = open();
    await queue.append(range(0, 5).map((n) => [line(n)]));
    await queue.close();
    const file = join(folder, readdirSync(folder).find((name) => name.endsWith('.raw'))!);
    const whole = readFileSync(file);
    for (const tail of [Buffer.from([200, 0]), whole.subarray(0, 30), Buffer.alloc(64)]) {
      writeFileSync(file, whole);
      appendFileSync(file, tail);
      const again = open();
      expect(numbers(again.pick(100))).toEqual(range(0, 5));
      await again.close();
      for (const name of readdirSync(folder)) rmSync(join(folder, name));
    }
  });

  test('a record whose check fails is counted, and costs no other', async () => {
    const queue = open();
    await queue.append(range(0, 5).map((n) => [line(n)]));
    await queue.close();
    const file = join(folder, readdirSync(folder).find((name) => name.endsWith('.raw'))!);
    const bytes = readFileSync(file);
    bytes[20]! ^= 0xff;
    writeFileSync(file, bytes);
    const again = open();
    expect([numbers(again.pick(100)), again.counts().damaged]).toEqual([range(1, 5), 1]);
    await again.close();
  });

  test('full: the oldest is thinned, source by source, said and counted; its size is kept', async () => {
    const maxBytes = 20_000;
    const queue = open(maxBytes);
    const total = 4000;
    for (let n = 0; n < total; n += 50)
      await queue.append([range(n, n + 50).map((k) => line(k, k % 2 === 0 ? 'u1' : 'u2'))]);
    const bytes = readdirSync(folder).reduce((sum, name) => sum + statSync(join(folder, name)).size, 0);
    expect(bytes).toBeLessThan(maxBytes + 4096);
    const { thinned } = queue.counts();
    expect(thinned).toBeGreaterThan(0);
    const left = drain(queue, 500)
      .flat()
      .sort((a, b) => a - b);
    expect(left.length + thinned).toBe(total);
    // The newest is whole, and of the oldest that is left both units still speak.
    expect(left.slice(-40)).toEqual(range(total - 40, total));
    expect(new Set(left.slice(0, 20).map((n) => n % 2)).size).toBe(2);
    expect(said.at(-1)).toMatch(
      /the queue is full: \d+ of the oldest readings were given up, \d+ since the courier began/,
    );
    await queue.close();
  });

  test('settings, alarms and corrections are not thinned', async () => {
    const queue = open(20_000);
    const settings = (n: number): string =>
      JSON.stringify({ t: n * 1000, site: 'millpond', unit: 'u1', settings: { firmware: `1.${n}` } });
    for (let n = 0; n < 3000; n += 50)
      await queue.append(range(n, n + 50).map((k) => [k % 100 === 0 ? settings(k) : line(k)]));
    expect(queue.counts().thinned).toBeGreaterThan(0);
    const left = drain(queue, 500).flat();
    expect(range(0, 30).map((k) => left.includes(k * 100))).toEqual(range(0, 30).map(() => true));
    await queue.close();
  });

  test('an hour’s end closes a segment, also where the clock steps back', async () => {
    const queue = open();
    await queue.append([[line(1)]]);
    nowMs -= 3_600_000;
    await queue.append([[line(2)]]);
    expect(
      readdirSync(folder)
        .sort()
        .map((name) => name.split('.').at(-1)),
    ).toEqual(['pack', 'raw']);
    expect(drain(queue).flat()).toEqual([1, 2]);
    await queue.close();
  });

  test('where the disk refuses, the append says so, and the queue goes on when it takes bytes again', async () => {
    const queue = open();
    await queue.append([[line(0)]]);
    nowMs += 7_200_000;
    rmSync(folder, { recursive: true });
    await expect(queue.append([[line(1)]])).rejects.toThrow(/ENOENT/);
  });
});
