import { describe, expect, test } from 'vitest';
import { HOUR_MS, MINUTE_MS } from '../../../ingest/vocabulary/time.ts';
import { newClockState, resolveWalls, WallClock, zoneNamed } from '../../../ingest/wire/wall-clock.ts';

const BERLIN = new WallClock(zoneNamed('Europe/Berlin')!);
const MIDNIGHT = Date.UTC(2025, 9, 26);

/** Wall times of 26 October 2025 as minutes after local midnight → hours UTC. */
function hours(wallMinutes: readonly number[], pieces: readonly number[] = [wallMinutes.length]): number[] {
  const state = newClockState();
  let at = 0;
  return pieces.flatMap((length) => {
    const walls = wallMinutes.slice(at, at + length).map((minutes) => MIDNIGHT + minutes * MINUTE_MS);
    at += length;
    return resolveWalls(walls, BERLIN, state).map((t) => (t - MIDNIGHT) / HOUR_MS);
  });
}
const QUARTERS = [105, 120, 135, 150, 165, 120, 135, 150, 165, 180, 195];
const QUARTERS_UTC = [-0.25, 0, 0.25, 0.5, 0.75, 1, 1.25, 1.5, 1.75, 2, 2.25];

describe('resolveWalls', () => {
  test('the first pass through the repeated hour is summer time, the second standard time', () => {
    expect(hours(QUARTERS)).toEqual(QUARTERS_UTC);
  });

  test('says the same wherever the file is cut once it has begun before the hour', () => {
    for (let cut = 1; cut < QUARTERS.length; cut += 1) {
      expect(hours(QUARTERS, [cut, QUARTERS.length - cut])).toEqual(QUARTERS_UTC);
    }
  });

  test('a file that begins with its newest row runs the other way round', () => {
    expect(hours([...QUARTERS].reverse())).toEqual([...QUARTERS_UTC].reverse());
  });

  test('a file that begins inside of the hour and steps back has both passes', () => {
    expect(hours([150, 165, 120, 135])).toEqual([0.5, 0.75, 1, 1.25]);
  });

  test('a file that begins inside of the hour and goes on after it without a step is in the second pass', () => {
    expect(hours([150, 165, 180])).toEqual([1.5, 1.75, 2]);
  });

  test('a file that holds nothing but one pass is taken for the first', () => {
    expect(hours([120, 150, 165])).toEqual([0, 0.5, 0.75]);
  });

  test('after a gap the pass is the one that is nearer to its neighbours', () => {
    expect(hours([30, 150, 165, 180])).toEqual([-1.5, 1.5, 1.75, 2]);
    expect(hours([110, 120, 130, 400])).toEqual([-1 / 6, 0, 1 / 6, 400 / 60 - 1]);
  });

  test('where both neighbours are as near, it is the first pass', () => {
    expect(hours([105, 120, 135, 150, 165, 180])).toEqual([-0.25, 0, 0.25, 0.5, 0.75, 2]);
  });

  test('the same wall time twice in a row is one instant', () => {
    expect(hours([105, 120, 120, 135])).toEqual([-0.25, 0, 0, 0.25]);
  });

  test('a wall time that spring leaves out is none', () => {
    const walls = [1.5, 2, 2.5, 3].map((hour) => Date.UTC(2026, 2, 29) + hour * HOUR_MS);
    expect(resolveWalls(walls, BERLIN, newClockState())).toEqual([
      Date.UTC(2026, 2, 29, 0, 30),
      Number.NaN,
      Number.NaN,
      Date.UTC(2026, 2, 29, 1),
    ]);
  });
});

describe('WallClock', () => {
  test('knows a change of half an hour: Lord Howe repeats 01:30 to 02:00', () => {
    const clock = new WallClock(zoneNamed('Australia/Lord_Howe')!);
    const at = (hour: number, minute: number): number => clock.instants(Date.UTC(2025, 3, 6, hour, minute)).length;
    expect([at(1, 15), at(1, 30), at(1, 59), at(2, 0)]).toEqual([1, 2, 2, 1]);
  });

  test('a clock that is never changed has every hour once', () => {
    const clock = new WallClock(zoneNamed('UTC+1')!);
    expect(clock.instants(Date.UTC(2025, 9, 26, 2, 30))).toEqual([Date.UTC(2025, 9, 26, 1, 30)]);
    expect(clock.instants(Date.UTC(2026, 2, 29, 2, 30))).toEqual([Date.UTC(2026, 2, 29, 1, 30)]);
  });

  test('a zone that is none is none', () => {
    expect([zoneNamed('Europe/Nowhere'), zoneNamed('')]).toEqual([null, null]);
  });
});
