import { describe, expect, test } from 'vitest';
import type { BrokerLine } from '../../../../ingest/sources/mqtt/_broker-line.ts';
import { createStorePump } from '../../../../ingest/sources/mqtt/_store-pump.ts';
import { until } from '../../../peers/_mosquitto.ts';

const PAYLOAD = new Uint8Array(1024 * 1024);

function rig() {
  const acknowledged: number[] = [];
  let release = (): void => undefined;
  const held = new Promise<void>((resolve) => {
    release = resolve;
  });
  const line: BrokerLine = {
    acknowledge: (ids) => acknowledged.push(...ids),
    subscribe: async () => 1,
    askForBirth: () => undefined,
    end: async () => undefined,
    drop: () => undefined,
  };
  const seen = { drained: 0, stored: 0, kept: [] as number[][], failsToKeep: 0 };
  const pump = createStorePump({
    door: {
      async store(batch) {
        await held;
        return { stored: batch.readings, alreadyThere: 0 };
      },
    },
    read(message, builder) {
      builder.countLine();
      builder.beginRow();
      builder.endRow(builder.placeOf({ site: 'millpond', kind: 'unit', id: 'u1' }), message.arrivedAt);
    },
    stored: ({ readings }) => {
      seen.stored += readings;
    },
    keep() {
      seen.kept.push([...acknowledged]);
      if (seen.failsToKeep > 0) {
        seen.failsToKeep -= 1;
        throw new Error('the disk is full');
      }
    },
    troubled: () => undefined,
    drained: () => {
      seen.drained += 1;
    },
  });
  const offer = (n: number, payload = PAYLOAD, messageId: number | null = n): boolean =>
    pump.offer({
      message: { topic: 't', payload, isRetained: false, canComeAgain: true, arrivedAt: n },
      line,
      messageId,
    });
  return { pump, offer, release, acknowledged, seen };
}

describe('createStorePump', () => {
  test('what must outlive the process is kept before the burst is acknowledged, and stored once however often that fails', async () => {
    const { offer, release, acknowledged, seen } = rig();
    seen.failsToKeep = 1;
    release();
    offer(1, new Uint8Array(1));
    await until(() => seen.drained === 1);
    expect([seen.kept, acknowledged, seen.stored]).toEqual([[[], []], [1], 1]);
  });

  test('holds no more than its bound while the disk is busy, and takes again once it is not', async () => {
    const { offer, release, acknowledged, seen } = rig();
    let taken = 0;
    while (offer(taken + 1)) taken += 1;
    expect(taken).toBeLessThanOrEqual(64);
    expect(taken).toBeGreaterThan(60);
    expect(acknowledged).toEqual([]);
    release();
    await until(() => seen.drained === 1);
    expect(acknowledged).toEqual(Array.from({ length: taken }, (_, n) => n + 1));
    expect(offer(1000)).toBe(true);
    await until(() => seen.drained === 2);
    expect(seen.stored).toBe(taken + 1);
  });

  test('many small messages have a bound, too', () => {
    const { offer } = rig();
    const small = new Uint8Array(1);
    let taken = 0;
    while (offer(taken + 1, small)) taken += 1;
    expect(taken).toBe(100_000);
  });

  test('finish stores what waits, and takes nothing new', async () => {
    const { pump, offer, release, acknowledged } = rig();
    for (let n = 1; n <= 5; n += 1) offer(n, new Uint8Array(1), n === 3 ? null : n);
    const finishing = pump.finish();
    expect(offer(6)).toBe(false);
    release();
    await finishing;
    expect(acknowledged).toEqual([1, 2, 4, 5]);
  });
});
