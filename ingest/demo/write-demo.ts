/** Writes the demo fleet to a folder: site records, logs, and the labels they are scored against. */
import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { gzip } from 'node:zlib';
import { DAY_MS, dayOf, type EpochMs, epochMs, formatTime } from '../vocabulary/time.ts';
import { planFleet } from './fleet.ts';
import type { FleetLabels, SiteLabels } from './labels.ts';
import type { LogFormat } from './log-lines.ts';
import { COMPANY, VALLEY } from './names.ts';
import { createSiteRun, simulateDay } from './simulate-site.ts';
import { siteDocuments } from './site-documents.ts';
import { labelSite } from './site-labels.ts';
import type { Period, SitePlan } from './site-plan.ts';

export interface DemoOptions {
  /** Folder to write to; made where it does not exist. */
  readonly out: string;
  readonly seed: number;
  /** Midnight UTC of the first day. */
  readonly from: EpochMs;
  readonly days: number;
  /** Sampling interval on ordinary days; must divide a day. */
  readonly everyS: number;
  /** Sampling interval on days with a grid loss; as everyS where absent. */
  readonly eventEveryS?: number;
  /** 12 where absent. */
  readonly sites?: number;
  readonly gzip?: boolean;
  readonly format?: LogFormat;
  readonly say: (line: string) => void;
}

export interface DemoFiles {
  /** Log files, in the order of sites and days. */
  readonly files: string[];
  readonly sitesFile: string;
  readonly labelsFile: string;
  /** Distinct readings in them. */
  readonly readings: number;
}

/** A phase of at most one interval must fit; below this a tick has no room for the sources' own instants. */
const LEAST_EVERY_S = 5;

const compress = promisify(gzip);

function checkInterval(name: string, everyS: number): void {
  if (!Number.isInteger(everyS) || everyS < LEAST_EVERY_S || (DAY_MS / 1000) % everyS !== 0) {
    throw new RangeError(
      `Cannot write a demo with ${name} = ${everyS}: expected whole seconds from ${LEAST_EVERY_S} that divide a day`,
    );
  }
}

function periodOf(options: DemoOptions): Period {
  const { from, days, everyS, eventEveryS = everyS } = options;
  if (dayOf(from) !== from) throw new RangeError(`Cannot write a demo from ${formatTime(from)}: expected midnight UTC`);
  if (!Number.isInteger(days) || days < 1)
    throw new RangeError(`Cannot write a demo of ${days} days: expected a whole number from 1`);
  checkInterval('everyS', everyS);
  checkInterval('eventEveryS', eventEveryS);
  return { from, to: epochMs(from + days * DAY_MS), everyMs: everyS * 1000, eventEveryMs: eventEveryS * 1000 };
}

interface SiteWritten {
  readonly files: string[];
  readonly labels: SiteLabels;
  readonly readings: number;
}

/** Simulates one site; each day is compressed and written while the next is simulated. */
async function writeSite(plan: SitePlan, period: Period, options: DemoOptions): Promise<SiteWritten> {
  const folder = join(options.out, 'logs', plan.id);
  await mkdir(folder, { recursive: true });
  const run = createSiteRun(plan, period, options.seed, options.format ?? 'ndjson');
  const files: string[] = [];
  let writing: Promise<unknown> = Promise.resolve();
  for (let day: number = period.from; day < period.to; day += DAY_MS) {
    const dayFiles = simulateDay(run, day);
    await writing;
    writing = Promise.all(
      dayFiles.map(async ({ name, bytes }) => {
        const path = join(folder, options.gzip === true ? `${name}.gz` : name);
        files.push(path);
        await writeFile(path, options.gzip === true ? await compress(bytes, { level: 3 }) : bytes);
      }),
    );
  }
  await writing;
  return { files, labels: labelSite(run.state), readings: run.readings };
}

/**
 * Writes `sites.yaml`, `logs/<site>/<day>.ndjson` and `labels.json` under `out`. The same options give the same bytes.
 *
 * @throws RangeError for options that make no period: an interval that does not divide a day, a start that is no midnight
 */
export async function writeDemo(options: DemoOptions): Promise<DemoFiles> {
  const period = periodOf(options);
  const plans = planFleet({ seed: options.seed, period, sites: options.sites ?? 12 });
  await mkdir(options.out, { recursive: true });
  const sitesFile = join(options.out, 'sites.yaml');
  const head = `# Demo fleet: ${COMPANY}, ${VALLEY}. Invented places.\n`;
  await writeFile(sitesFile, head + plans.flatMap((plan) => siteDocuments(plan, period)).join('---\n'));
  const files: string[] = [];
  const sites: SiteLabels[] = [];
  let readings = 0;
  for (const [place, plan] of plans.entries()) {
    const written = await writeSite(plan, period, options);
    files.push(...written.files);
    sites.push(written.labels);
    readings += written.readings;
    options.say(`${plan.id}: ${written.readings} readings (site ${place + 1} of ${plans.length})`);
  }
  const labels: FleetLabels = { seed: options.seed, from: formatTime(period.from), to: formatTime(period.to), sites };
  const labelsFile = join(options.out, 'labels.json');
  await writeFile(labelsFile, `${JSON.stringify(labels, null, 2)}\n`);
  return { files, sitesFile, labelsFile, readings };
}
