/** Where a site of the demo stands, on disk: written by whoever lives it, read by the next. */
import { mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { deserialize, serialize } from 'node:v8';
import { z } from 'zod';
import { planFleet } from '../fleet.ts';
import { createSiteRun, type SiteRun } from '../simulate-site.ts';
import type { Period } from '../site-plan.ts';
import { restoreRun, saveRun } from './run-state.ts';
import { DEMO_FAULTS, StartedFaults } from './started-faults.ts';

const startedSchema = z.array(
  z.object({
    id: z.string(),
    site: z.string(),
    fault: z.enum(DEMO_FAULTS),
    subject: z.string(),
    start: z.number(),
    end: z.number().nullable(),
  }),
);
const fileSchema = z.object({ run: z.instanceof(Uint8Array), started: startedSchema });

/** A site of the demo with what was put into it. */
export interface HeldSite {
  readonly site: string;
  readonly run: SiteRun;
  readonly started: StartedFaults;
  /** When its next tick begins; null: it was never lived. */
  readonly nextMs: number | null;
}

export interface FleetSeed {
  readonly seed: number;
  readonly period: Period;
  readonly sites: number;
  /** Folder of the files. */
  readonly folder: string;
}

const fileOf = (folder: string, site: string): string => join(folder, `${site}.bin`);

/** @param place of the site in the fleet */
export function openHeldSite({ seed, period, sites, folder }: FleetSeed, place: number): HeldSite {
  const planned = planFleet({ seed, period, sites })[place]!;
  const faults = [...planned.faults];
  const plan = { ...planned, faults };
  const run = createSiteRun(plan, period, seed, 'ndjson');
  const started = new StartedFaults(run.state, faults);
  const held = readFile(fileOf(folder, plan.id));
  if (held === null) return { site: plan.id, run, started, nextMs: null };
  started.restore(held.started);
  return { site: plan.id, run, started, nextMs: restoreRun(run, held.run) };
}

function readFile(path: string): z.infer<typeof fileSchema> | null {
  try {
    return fileSchema.parse(deserialize(readFileSync(path)));
  } catch {
    // Not there yet, or of another version: the site is lived from its beginning.
    return null;
  }
}

/** Whole or not at all. */
export function keepHeldSite({ folder }: FleetSeed, { site, run, started }: HeldSite, nextMs: number): void {
  const path = fileOf(folder, site);
  mkdirSync(dirname(path), { recursive: true });
  writeFileSync(`${path}.new`, serialize({ run: saveRun(run, nextMs), started: started.list }));
  renameSync(`${path}.new`, path);
}
