import { describe, expect, test } from 'vitest';
import { newClockState, resolveWalls, WallClock, zoneNamed } from '../../ingest/wire/wall-clock.ts';

const DIRECTIVE =
  'Directive 2000/84/EC, articles 2 and 3: summer time begins and ends at 1 a.m. UTC on the last Sundays of March and October';

/** Wall times of Berlin in the order of a log, and the hour UTC of each; null for a time that does not exist. */
const AUTUMN = [
  { source: DIRECTIVE, wall: '2025-10-26T01:59', utc: '2025-10-25T23:59' },
  { source: DIRECTIVE, wall: '2025-10-26T02:00', utc: '2025-10-26T00:00' },
  { source: DIRECTIVE, wall: '2025-10-26T02:30', utc: '2025-10-26T00:30' },
  { source: DIRECTIVE, wall: '2025-10-26T02:59', utc: '2025-10-26T00:59' },
  { source: DIRECTIVE, wall: '2025-10-26T02:00', utc: '2025-10-26T01:00' },
  { source: DIRECTIVE, wall: '2025-10-26T02:30', utc: '2025-10-26T01:30' },
  { source: DIRECTIVE, wall: '2025-10-26T02:59', utc: '2025-10-26T01:59' },
  { source: DIRECTIVE, wall: '2025-10-26T03:00', utc: '2025-10-26T02:00' },
] as const;
const SPRING = [
  { source: DIRECTIVE, wall: '2026-03-29T01:59', utc: '2026-03-29T00:59' },
  { source: DIRECTIVE, wall: '2026-03-29T02:00', utc: null },
  { source: DIRECTIVE, wall: '2026-03-29T02:30', utc: null },
  { source: DIRECTIVE, wall: '2026-03-29T02:59', utc: null },
  { source: DIRECTIVE, wall: '2026-03-29T03:00', utc: '2026-03-29T01:00' },
] as const;

const clock = new WallClock(zoneNamed('Europe/Berlin')!);

describe('wall times of Europe/Berlin', () => {
  test.each([
    { season: 'autumn', rows: AUTUMN },
    { season: 'spring', rows: SPRING },
  ])('agree in $season, hour by hour, with the directive on summer time', ({ rows }) => {
    const walls = rows.map(({ wall }) => Date.parse(`${wall}Z`));
    const instants = resolveWalls(walls, clock, newClockState());
    expect(instants).toEqual(rows.map(({ utc }) => (utc === null ? Number.NaN : Date.parse(`${utc}Z`))));
  });

  test.each([...new Map([...AUTUMN, ...SPRING].map((row) => [row.wall, row])).values()])(
    '$wall alone is as many instants as $source says',
    ({ wall }) => {
      const rows = [...AUTUMN, ...SPRING].filter((row) => row.wall === wall && row.utc !== null);
      expect(clock.instants(Date.parse(`${wall}Z`))).toEqual(rows.map(({ utc }) => Date.parse(`${utc}Z`)));
    },
  );
});
