/** How long the analysis takes: all of it, with nothing new, and with one late day of one site. */
import { cp, readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { DAY_MS, formatDay } from '../../ingest/vocabulary/time.ts';
import { benchData, FIRST_DAY_MS, freshFolder } from './bench-data.ts';
import { type BenchFigure, figure } from './bench-figure.ts';
import type { BenchRun } from './bench-run.ts';
import { importInChild, runChild } from './run-child.ts';

interface AnalysisFigures {
  readonly seconds: number;
  readonly findings: number;
  readonly folded: readonly string[];
  readonly daysFolded: number;
  readonly maxRssMb: number;
}

/** The analysis of this fleet may take this long … */
const COLD_S = 60;
const COLD_SITES = 24;
const LATE_DAYS_BACK = 5;

export async function findingsPart({ sizes, say }: BenchRun): Promise<BenchFigure[]> {
  const size = { ...sizes.findings, format: 'csv', gzip: true } as const;
  const fleet = await benchData(size, say);
  const lateDayMs = FIRST_DAY_MS + (size.days - LATE_DAYS_BACK) * DAY_MS;
  const site = (await readdir(fleet.logs)).sort()[0]!;
  const isLate = (path: string): boolean => path.startsWith(join(fleet.logs, site, formatDay(lateDayMs)));
  const inTime = await freshFolder('findings-logs');
  await cp(fleet.logs, inTime, { recursive: true, filter: (path) => !isLate(path) });
  const late = (await readdir(join(fleet.logs, site))).map((name) => join(fleet.logs, site, name)).filter(isLate);

  const data = await freshFolder('findings');
  const imported = await importInChild({ data, sites: [fleet.sitesFile], columns: null, paths: [inTime] });
  const cold = await runChild<AnalysisFigures>('findings-child.js', { data, lateDayMs: null });
  const again = await runChild<AnalysisFigures>('findings-child.js', { data, lateDayMs: null });
  await importInChild({ data, sites: [], columns: null, paths: late });
  const afterLate = await runChild<AnalysisFigures>('findings-child.js', { data, lateDayMs });
  // … so a smaller fleet its share of that.
  const coldLimit = (COLD_S * size.sites) / COLD_SITES;
  return [
    figure('findings', 'analysis of all that is stored', cold.seconds, 's', {
      asked: { of: 'value', is: 'most', limit: coldLimit },
      note: `${imported.lines.toLocaleString('en')} lines, ${fleet.words}; ${cold.findings} findings; ${Math.round(cold.maxRssMb)} MB`,
    }),
    figure('findings', 'again with nothing new', again.seconds, 's', {
      asked: { of: 'value', is: 'most', limit: 1 },
      note: `${again.folded.length} sites folded`,
    }),
    figure(
      'findings',
      `sites folded after one day of ${site} came ${LATE_DAYS_BACK} days late`,
      afterLate.folded.length,
      'sites',
      {
        asked: { of: 'value', is: 'most', limit: afterLate.folded.join() === site ? 1 : 0 },
        note: `${afterLate.daysFolded} days of ${size.days}, ${afterLate.seconds.toFixed(2)} s`,
      },
    ),
  ];
}
