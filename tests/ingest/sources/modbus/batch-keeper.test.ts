import { describe, expect, test } from 'vitest';
import { BatchKeeper } from '../../../../ingest/sources/modbus/_batch-keeper.ts';
import type { ReadingBatch } from '../../../../ingest/vocabulary/reading.ts';
import { BatchBuilder } from '../../../../ingest/wire/batch-builder.ts';
import { readingsOf } from './_virtual-link.ts';

function batch(t: number, settings: Record<string, boolean> | null = null): ReadingBatch {
  const builder = new BatchBuilder();
  builder.countLine();
  builder.take({
    source: { site: 'millpond', kind: 'unit', id: 'u1' },
    t,
    values: [1, 100],
    extras: null,
    settings,
    replaces: false,
    revision: 0,
    alarm: null,
  });
  return builder.finish();
}

function keeper(most: number) {
  const taken: number[] = [];
  const troubles: (string | null)[] = [];
  let thinned = 0;
  const state = { isFull: true };
  const kept = new BatchKeeper(
    {
      store: async (one) => {
        if (state.isFull) throw new Error('disk full');
        taken.push(...readingsOf(one).map(({ t }) => t));
        return { stored: one.readings, alreadyThere: 0 };
      },
    },
    {
      stored: () => undefined,
      trouble: (why) => void troubles.push(why),
      thinned: (count) => {
        thinned += count;
      },
    },
    most,
  );
  return { kept, taken, troubles, state, thinned: () => thinned };
}

describe('BatchKeeper', () => {
  test('what it can not keep is thinned evenly from the older half, counted to the last reading', async () => {
    const { kept, thinned } = keeper(100);
    for (let t = 0; t < 1000; t += 1) kept.offer(batch(t));
    await kept.finish();
    expect(kept.waiting).toBeLessThanOrEqual(100);
    expect(kept.waiting).toBeGreaterThan(40);
    expect(kept.waiting + thinned()).toBe(1000);
  });

  test('settings are given up last', async () => {
    const { kept, taken, state } = keeper(50);
    for (let t = 0; t < 500; t += 1) kept.offer(batch(t, t % 50 === 0 ? { battery_shared: true } : null));
    await kept.finish();
    state.isFull = false;
    kept.offer(batch(500));
    await kept.finish();
    expect(taken.filter((t) => t < 500 && t % 50 === 0)).toHaveLength(10);
    expect(new Set(taken).size).toBe(taken.length);
  });

  test('says when the door begins to refuse, and when it takes again', async () => {
    const { kept, troubles, state } = keeper(50);
    kept.offer(batch(0));
    await kept.finish();
    state.isFull = false;
    kept.offer(batch(1));
    await kept.finish();
    expect(troubles).toEqual(['disk full', null]);
    expect(kept.waiting).toBe(0);
  });
});
