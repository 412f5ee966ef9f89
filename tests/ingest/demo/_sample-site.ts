/** A small site and period for the tests of the simulator. */

import type { Period, SitePlan } from '../../../ingest/demo/site-plan.ts';
import { makePacks, makeSite, makeUnits } from '../../../ingest/demo/stories.ts';
import { DAY_MS, epochMs } from '../../../ingest/vocabulary/time.ts';

export const FROM = epochMs(Date.UTC(2026, 2, 2));

export function periodOf(days: number, everyS = 60, eventEveryS = everyS): Period {
  return { from: FROM, to: epochMs(FROM + days * DAY_MS), everyMs: everyS * 1000, eventEveryMs: eventEveryS * 1000 };
}

export function sampleSite(wish: Partial<SitePlan> = {}): SitePlan {
  return makeSite({
    id: 'fern-lane-shop',
    name: 'Fern Lane Shop',
    group: 'fern',
    kind: 'shop',
    units: makeUnits({ ratedW: [6000, 6000, 6000], outputM: [5, 7, 9], serialFrom: 100 }),
    packs: makePacks([200, 200, 100], [8, 9, 16]),
    ...wish,
  });
}
