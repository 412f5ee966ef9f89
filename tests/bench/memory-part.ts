/** Peak memory of an import, of one large file and of one four times as large. */
import { createReadStream, createWriteStream } from 'node:fs';
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { benchData, freshFolder, keptFile } from './bench-data.ts';
import { type BenchFigure, figure } from './bench-figure.ts';
import type { BenchRun } from './bench-run.ts';
import { importInChild } from './run-child.ts';

/** What the allocator and the collector make of the same work from run to run. */
const FLAT = 1.15;

export async function memoryPart({ sizes, say }: BenchRun): Promise<BenchFigure[]> {
  const data = await benchData({ ...sizes.memory, format: 'ndjson', gzip: true }, say);
  const found = await readdir(data.logs, { recursive: true });
  // All sites of one day, then the next day: as many sources at once as the fleet has.
  const byDay = found.filter((name) => name.endsWith('.gz')).sort((a, b) => dayFirst(a).localeCompare(dayFirst(b)));
  const quarter = Math.floor(byDay.length / 4);
  const peaks: { readonly lines: number; readonly maxRssMb: number }[] = [];
  for (const count of [quarter, 4 * quarter]) {
    const file = await keptFile(`${sizes.memory.sites}-sites-${count}-files-as-one.ndjson.gz`, async (path) => {
      // One gzip file behind another is a gzip file (RFC 1952, section 2.2).
      for (const one of byDay.slice(0, count)) {
        await pipeline(createReadStream(join(data.logs, one)), createWriteStream(path, { flags: 'a' }));
      }
    });
    const folder = await freshFolder('memory');
    peaks.push(await importInChild({ data: folder, sites: [data.sitesFile], columns: null, paths: [file] }));
  }
  const [small, large] = [peaks[0]!, peaks[1]!];
  return [
    figure('memory', 'peak of an import of one file', large.maxRssMb, 'MB', {
      asked: { of: 'value', is: 'most', limit: 400 },
      note: `${large.lines.toLocaleString('en')} lines of NDJSON in gzip; ${data.words}`,
    }),
    figure('memory', 'the same, against a quarter of the file', large.maxRssMb, 'MB', {
      against: { name: `${small.lines.toLocaleString('en')} lines`, value: small.maxRssMb },
      asked: { of: 'ratio', is: 'most', limit: FLAT },
    }),
  ];
}

const dayFirst = (path: string): string => path.split('/').reverse().join('/');
