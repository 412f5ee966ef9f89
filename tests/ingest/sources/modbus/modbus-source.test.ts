import { afterEach, describe, expect, test } from 'vitest';
import type { LiveDoor } from '../../../../ingest/intake/live-door.ts';
import {
  device,
  type Manner,
  readingsOf,
  START_MS,
  type StoredReading,
  type VirtualRun,
  virtualRun,
} from './_virtual-link.ts';

const EVERY_MS = 10_000;
const MINUTE_MS = 60_000;
const running: VirtualRun[] = [];

afterEach(async () => {
  await Promise.all(running.splice(0).map(({ source }) => source.stop()));
});

function run(...args: Parameters<typeof virtualRun>): VirtualRun {
  const one = virtualRun(...args);
  running.push(one);
  return one;
}

const units = (count: number, from = 1) =>
  Array.from({ length: count }, (_, i) => device('unit', `u${from + i}`, from + i));
const timesOf = (stored: readonly StoredReading[], id: string): number[] =>
  stored.filter((one) => one.id === id).map(({ t }) => t - START_MS);
const roundOf = (tMs: number): number => Math.floor(tMs / EVERY_MS);
const quick: Manner = () => ({ ms: 10 });

describe('createModbusSource', () => {
  test('reads on multiples of the interval by the clock, without drift', async () => {
    const one = run(units(2), () => ({ ms: 137 }));
    await one.runFor(10 * MINUTE_MS);
    const times = timesOf(one.stored, 'u1').filter((t) => t >= EVERY_MS);
    expect(times).toEqual(Array.from({ length: times.length }, (_, i) => (i + 1) * EVERY_MS));
    expect(times.length).toBeGreaterThanOrEqual(59);
    expect(
      timesOf(one.stored, 'u2')
        .slice(1)
        .every((t) => t % EVERY_MS === 137),
    ).toBe(true);
  });

  test('64 units on one link keep a cadence of 10 s beside dead ones, which cost them nothing', async () => {
    const dead = new Set([3, 17, 18, 40, 64]);
    const one = run(units(64), (address) => (dead.has(address) ? null : { ms: 25 }));
    await one.runFor(30 * MINUTE_MS);
    const living = units(64).filter(({ address }) => !dead.has(address));
    for (const { config } of living) {
      const times = timesOf(one.stored, config.unit!).filter((t) => t >= MINUTE_MS);
      expect(times.map(roundOf)).toEqual(Array.from({ length: times.length }, (_, i) => 6 + i));
      // All of a round stand within the time that the living alone take.
      expect(Math.max(...times.map((t) => t % EVERY_MS))).toBeLessThan(64 * 25);
    }
    // A dead one is asked about once a minute.
    const asks = one.asked.filter(({ address, atMs }) => dead.has(address) && atMs > 5 * MINUTE_MS);
    expect(asks.length).toBeLessThanOrEqual(dead.size * 26);
    expect(asks.length).toBeGreaterThan(dead.size * 15);
    expect(one.source.status().parts[2]).toMatchObject({ isAnswering: false, trouble: 'no answer within 1000 ms' });
    expect(one.source.status()).toMatchObject({ isConnected: true, trouble: null });
  });

  test('a device that dies is felt for one time-out, and comes back by itself', async () => {
    const isDead = (atMs: number): boolean => atMs > 5 * MINUTE_MS && atMs < 15 * MINUTE_MS;
    const one = run(units(8), (address, atMs) => (address === 2 && isDead(atMs) ? null : { ms: 20 }));
    await one.runFor(20 * MINUTE_MS);
    for (const id of ['u1', 'u3', 'u8']) {
      const times = timesOf(one.stored, id).filter((t) => t >= MINUTE_MS);
      expect(times.map(roundOf)).toEqual(Array.from({ length: times.length }, (_, i) => 6 + i));
      expect(times.filter((t) => t % EVERY_MS > 1000).length).toBeLessThanOrEqual(1);
    }
    const back = timesOf(one.stored, 'u2').find((t) => t >= 15 * MINUTE_MS);
    expect(back).toBeLessThan(16 * MINUTE_MS + EVERY_MS);
    expect(timesOf(one.stored, 'u2').filter((t) => isDead(t))).toEqual([]);
  });

  test('units come back to back before packs, and slow devices after both', async () => {
    const devices = [
      device('pack', 'p1', 11),
      device('unit', 'u1', 1),
      device('unit', 'slow', 2),
      device('unit', 'u3', 3),
    ];
    const one = run(devices, (address) => ({ ms: address === 2 ? 2500 : 40 }));
    await one.runFor(5 * MINUTE_MS);
    const last = one.stored.filter(({ t }) => roundOf(t - START_MS) === 20);
    expect(last.map(({ id }) => id)).toEqual(['u1', 'u3', 'p1', 'slow']);
    expect(last.map(({ t }) => (t - START_MS) % EVERY_MS).slice(0, 3)).toEqual([0, 40, 80]);
    expect(timesOf(one.stored, 'slow').length).toBeGreaterThan(25);
  });

  test('a round that takes longer than the interval leaves rounds out, and says so', async () => {
    const one = run(units(9), () => ({ ms: 1200 }));
    await one.runFor(5 * MINUTE_MS);
    expect(one.lines.join('\n')).toMatch(/a round took 10800 ms, longer than the 10000 ms between two/);
    expect(one.source.status().trouble).toMatch(/rounds were left out/);
    expect(timesOf(one.stored, 'u9').length).toBeGreaterThan(12);
  });

  test('a link that is down is no fault of the devices: they are read in the first round after it is back', async () => {
    const isDown = (atMs: number): boolean => atMs > 3 * MINUTE_MS && atMs < 63 * MINUTE_MS;
    const one = run(units(4), quick, { isDown });
    await one.runFor(62 * MINUTE_MS);
    expect(one.source.status()).toMatchObject({ isConnected: false, trouble: 'the link is down' });
    expect(one.source.status().parts.map(({ isAnswering }) => isAnswering)).toEqual([false, false, false, false]);
    await one.runFor(3 * MINUTE_MS);
    for (const id of ['u1', 'u4']) {
      const back = timesOf(one.stored, id).find((t) => t >= 63 * MINUTE_MS);
      expect(back).toBeLessThan(63 * MINUTE_MS + EVERY_MS + 100);
    }
    expect(one.source.status()).toMatchObject({ isConnected: true, trouble: null });
  });

  test('a device that asks for time is asked once more', async () => {
    let count = 0;
    const one = run(units(1), () => {
      count += 1;
      return count % 2 === 1 ? { ms: 5, exception: 6 } : { ms: 5 };
    });
    await one.runFor(5 * MINUTE_MS);
    expect(timesOf(one.stored, 'u1').length).toBeGreaterThanOrEqual(29);
  });

  test('a device that refuses everything is looked at again, ever less often, and says what is wrong', async () => {
    const one = run(units(2), (address) => (address === 2 ? { ms: 5, exception: 2 } : { ms: 5 }));
    await one.runFor(60 * MINUTE_MS);
    const asks = one.asked.filter(({ address }) => address === 2).length;
    expect(asks).toBeLessThan(60);
    expect(asks).toBeGreaterThan(8);
    const [, part] = one.source.status().parts;
    expect(part!.trouble).not.toBeNull();
    expect(one.source.status().refused + one.lines.length).toBeGreaterThan(0);
    expect(timesOf(one.stored, 'u1').length).toBeGreaterThan(350);
  });

  test('the status names every device, counts readings and tells the last of each', async () => {
    const one = run([...units(1), device('pack', 'p1', 11)], quick);
    await one.runFor(MINUTE_MS + 500);
    const status = one.source.status();
    expect(status).toMatchObject({ name: 'modbus test', kind: 'modbus', isConnected: true });
    expect(status.readings).toBe(one.stored.length);
    expect(status.parts).toMatchObject([
      { name: 'u1 at address 1', isAnswering: true, lastReadingAt: START_MS + MINUTE_MS, trouble: null },
      { name: 'p1 at address 11', isAnswering: true, trouble: null },
    ]);
    expect(status.lagMs).toBeLessThan(100);
  });

  test('readings that the door refuses are kept, said, and stored in the end, each once', async () => {
    let isFull = true;
    const taken: StoredReading[] = [];
    const door: LiveDoor = {
      store: async (batch) => {
        if (isFull) throw new Error('ENOSPC: no space left on device');
        taken.push(...readingsOf(batch));
        return { stored: batch.readings, alreadyThere: 0 };
      },
    };
    const one = run(units(3), quick, { door });
    await one.runFor(5 * MINUTE_MS);
    expect(one.source.status().trouble).toMatch(/can't be stored: ENOSPC.*kept in memory/);
    expect(taken).toEqual([]);
    isFull = false;
    await expect.poll(() => taken.length, { timeout: 8000 }).toBeGreaterThanOrEqual(87);
    await one.source.stop();
    expect(new Set(taken.map(({ id, t }) => `${id} ${t}`)).size).toBe(taken.length);
  }, 20_000);

  test('stops while a device keeps it waiting, and hands on what was read', async () => {
    const one = run(units(3), quick);
    await one.runFor(MINUTE_MS);
    await one.source.stop();
    expect(timesOf(one.stored, 'u3').length).toBeGreaterThan(4);
  });
});
