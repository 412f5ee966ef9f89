/** A few sites of the demo that live from now on, in a folder of their own. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type LiveFleet, openLiveFleet } from '../../../../ingest/demo/live/live-fleet.ts';
import { type FleetSeed, keepHeldSite, openHeldSite } from '../../../../ingest/demo/live/site-file.ts';
import { beginSiteDay } from '../../../../ingest/demo/simulate-site.ts';
import { setOutages } from '../../../../ingest/demo/site-state.ts';
import { DAY_MS, dayOf, epochMs } from '../../../../ingest/vocabulary/time.ts';

export interface TestFleet {
  readonly fleet: LiveFleet;
  readonly seed: FleetSeed;
  readonly folder: string;
  close(): Promise<void>;
}

/** @param places sites that live, of a fleet of seven: each of the seven is heard in its own way */
export async function openTestFleet(places: readonly number[], nowMs: () => number = Date.now): Promise<TestFleet> {
  const folder = mkdtempSync(join(tmpdir(), 'kilter-fleet-'));
  const from = epochMs(dayOf(nowMs()) - 30 * DAY_MS);
  const period = { from, to: epochMs(from + 45 * DAY_MS), everyMs: 60_000, eventEveryMs: 10_000 };
  const seed: FleetSeed = { seed: 1, period, sites: 7, folder: join(folder, 'sites') };
  const fleet = await openLiveFleet({
    fleet: seed,
    speed: 1,
    logs: join(folder, 'incoming'),
    config: join(folder, 'config'),
    nowMs,
    elapsedMs: () => performance.now(),
  });
  for (const place of places) {
    const held = openHeldSite(seed, place);
    // Nothing was lived: what was planned before now is over, and what comes is nobody's choice but the test's.
    setOutages(held.run.state, []);
    beginSiteDay(held.run, dayOf(nowMs()));
    keepHeldSite(seed, held, Math.floor(nowMs() / 10_000) * 10_000 + 10_000);
    await fleet.add(place, false);
  }
  return {
    fleet,
    seed,
    folder,
    async close() {
      await fleet.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** Asks again until the answer is true. */
export async function until(isSo: () => boolean, what: string, forMs = 40_000): Promise<void> {
  const endMs = Date.now() + forMs;
  while (!isSo()) {
    if (Date.now() > endMs) throw new Error(`it did not come: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}
