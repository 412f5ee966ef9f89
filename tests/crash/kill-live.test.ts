/** Readings come by a folder, by push and through a courier, while worker, server and courier are killed in turn. */
import { appendFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import { startProxy } from '../peers/_proxy.ts';
import { freePort, type StartedPart, startPart, until } from './_started.ts';

const KILLS = Number(process.env.KILTER_KILLS ?? 6);
const TOKENS = { GATEWAY: 'token of the gateway', GARDEN: 'token of the courier' };

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-kill-live-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Every reading is one second further: its time says which it is, its value too. */
const START = Date.UTC(2026, 2, 10);
const line = (unit: string, n: number): string =>
  `${JSON.stringify({ t: START + n * 1000, site: 'millpond', unit, output_power_w: n })}\n`;

interface Stored {
  readonly times: readonly number[];
  readonly values: readonly number[];
  readonly conflicts: number;
}

/** What the store holds of a unit, block and journal together, as any reader sees it. */
function storedOf(data: string, unit: string): Stored {
  const db = openStoreToRead(data);
  try {
    const store = createReadingStore(db);
    const source = store.sources('millpond').find(({ id }) => id === unit);
    if (source === undefined) return { times: [], values: [], conflicts: 0 };
    const days = [...store.readBlocks(source.source, START, Date.UTC(2026, 2, 12))];
    return {
      times: days.flatMap(({ tMs }) => [...tMs].map((t) => (t - START) / 1000)),
      values: days.flatMap(({ columns }) => columns.flatMap((column) => [...(column ?? [])])),
      conflicts: store.claims(source.source, T_MIN_MS, T_MAX_MS).length,
    };
  } finally {
    db.close();
  }
}

/** Traffic that goes on until it is stopped; what it counts is what must be stored. */
function startTraffic(logs: string, courierLogs: string, port: number) {
  let written = 0;
  let acked = 0;
  let failed = 0;
  let isOn = true;
  const writing = setInterval(() => {
    appendFileSync(join(logs, 'a.ndjson'), line('folder', written));
    appendFileSync(join(courierLogs, 'b.ndjson'), line('courier', written));
    written++;
  }, 20);
  const pushing = (async () => {
    while (isOn) {
      const body = Array.from({ length: 5 }, (_, k) => line('push', acked + k)).join('');
      try {
        const response = await fetch(`http://127.0.0.1:${port}/api/readings`, {
          method: 'POST',
          body,
          headers: { Authorization: `Bearer ${TOKENS.GATEWAY}`, 'Content-Type': 'application/x-ndjson' },
        });
        if (response.status === 200) acked += 5;
        else failed++;
        await response.arrayBuffer();
      } catch {
        failed++;
      }
      await new Promise((resolve) => setTimeout(resolve, 60));
    }
  })();
  return {
    counts: () => ({ written, acked, failed }),
    async stop() {
      clearInterval(writing);
      isOn = false;
      await pushing;
    },
  };
}

describe('killed under traffic', () => {
  test(`${KILLS} kills of server, worker and courier in turn: each reading that was acknowledged or read is stored once`, {
    timeout: 120_000 + KILLS * 10_000,
  }, async () => {
    const port = await freePort();
    const [data, logs, courierLogs] = ['data', 'logs', 'courier-logs'].map((name) => join(folder, name)) as [
      string,
      string,
      string,
    ];
    mkdirSync(logs);
    mkdirSync(courierLogs);
    // A slow link that breaks again and again: before, in, or after an answer.
    const link = await startProxy(port);
    link.delayMs = 15;
    let broken = 0;
    const breaking = setInterval(() => {
      broken += link.cut();
    }, 430);
    const server = join(folder, 'kilter.yaml');
    writeFileSync(
      server,
      `data: ./data
listen: { host: 127.0.0.1, port: ${port} }
sources:
  - { kind: folder, path: ./logs }
  - kind: push
    tokens:
      - { name: gateway, token_env: GATEWAY, sites: [millpond] }
      - { name: garden, token_env: GARDEN, sites: [millpond] }
`,
    );
    const courier = join(folder, 'courier.yaml');
    writeFileSync(
      courier,
      `sources: [{ kind: folder, path: ./courier-logs }]
forward: { name: garden, push: "http://127.0.0.1:${link.port}/api/readings", token_env: GARDEN }
queue: { path: ./queue, max_mb: 16 }
`,
    );
    const parts: StartedPart[] = await Promise.all([
      startPart('serve', ['serve', '--config', server], /Kilter is at/, TOKENS),
      startPart('ingest', ['ingest', '--config', server], /readings are kept/, TOKENS),
      startPart('courier', ['courier', '--config', courier], /the queue is in/, TOKENS),
    ]);
    const traffic = startTraffic(logs, courierLogs, port);
    try {
      for (let kill = 0; kill < KILLS; kill++) {
        const before = traffic.counts();
        await until('traffic goes on', () => {
          const now = traffic.counts();
          return now.acked > before.acked && now.written > before.written + 20 + ((kill * 37) % 50);
        });
        await parts[kill % parts.length]!.killAndRestart();
      }
      link.isDead = true;
      await new Promise((resolve) => setTimeout(resolve, 500));
      link.isDead = false;
      broken += link.cut();
      clearInterval(breaking);
      await traffic.stop();
      const { written, acked } = traffic.counts();
      await until(
        'all of it is stored',
        () => storedOf(data, 'courier').times.length >= written && storedOf(data, 'folder').times.length >= written,
        90_000,
      );
      const range = (count: number): number[] => Array.from({ length: count }, (_, n) => n);
      for (const [unit, count] of [
        ['folder', written],
        ['courier', written],
      ] as const) {
        expect([unit, storedOf(data, unit)]).toEqual([
          unit,
          { times: range(count), values: range(count), conflicts: 0 },
        ]);
      }
      // Of a body whose answer was lost it is not known whether it is stored; what was acknowledged is.
      const pushed = storedOf(data, 'push');
      expect(pushed.times).toEqual(range(pushed.times.length));
      expect([pushed.times.length - acked, pushed.conflicts]).toEqual([
        expect.toSatisfy((n: number) => n === 0 || n === 5),
        0,
      ]);
      expect([written > 100, acked > 20, broken > 0]).toEqual([true, true, true]);
    } finally {
      await traffic.stop();
      const stops = await Promise.all(parts.map((part) => part.stop()));
      clearInterval(breaking);
      await link.end();
      expect(stops.map(({ code }, k) => [code, code === 0 ? '' : parts[k]!.said().slice(-1500)])).toEqual([
        [0, ''],
        [0, ''],
        [0, ''],
      ]);
      expect(Math.max(...stops.map(({ ms }) => ms))).toBeLessThan(5000);
    }
  });
});
