import { describe, expect, test } from 'vitest';
import { createDayLoad, DAY_S, fillDayLoad, openSpans } from '../../../ingest/demo/load.ts';
import { createPrng } from '../../../ingest/demo/prng.ts';
import type { SiteKind } from '../../../ingest/demo/site-plan.ts';
import { DAY_MS } from '../../../ingest/vocabulary/time.ts';
import { FROM } from './_sample-site.ts';

const KINDS: readonly SiteKind[] = ['clinic', 'bakery', 'school', 'farm', 'shop', 'workshop'];
const RATED_W = 10_000;

describe('fillDayLoad', () => {
  test.each(KINDS)(
    'a %s is above 20 %% of the rating for an hour on every day of the week, and never beyond the rating',
    (kind) => {
      const load = createDayLoad();
      const prng = createPrng(4, kind);
      for (let d = 0; d < 7; d++) {
        fillDayLoad(load, prng, kind, RATED_W, FROM + d * DAY_MS, 0);
        let loadedS = 0;
        let mostW = 0;
        for (let s = 0; s < DAY_S; s++) {
          if (load.activeW[s]! > 0.2 * RATED_W) loadedS++;
          mostW = Math.max(mostW, load.activeW[s]!);
          if (load.activeW[s]! < 0) throw new Error(`load below zero at second ${s}`);
        }
        expect(loadedS).toBeGreaterThan(3600);
        expect(mostW).toBeLessThan(RATED_W);
      }
    },
  );

  test('the machine of an overload carries the load beyond the rating in working hours only', () => {
    const load = createDayLoad();
    fillDayLoad(load, createPrng(4, 'overload'), 'workshop', RATED_W, FROM, 0.75);
    const [from, to] = openSpans('workshop', FROM)[0]!;
    const above = [...load.activeW.keys()].filter((s) => load.activeW[s]! > 1.15 * RATED_W);
    expect(above.length).toBeGreaterThan(1200);
    expect(above.every((s) => s >= from - 1 && s <= to)).toBe(true);
  });

  test('loads switch between seconds and draw reactive power as well', () => {
    const load = createDayLoad();
    fillDayLoad(load, createPrng(4, 'steps'), 'shop', RATED_W, FROM, 0);
    let steps = 0;
    for (let s = 1; s < DAY_S; s++) if (Math.abs(load.activeW[s]! - load.activeW[s - 1]!) > 300) steps++;
    expect(steps).toBeGreaterThan(100);
    expect(Math.max(...load.reactiveVar)).toBeGreaterThan(500);
  });
});
