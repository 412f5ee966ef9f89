/** How fast logs come in, from files to a checkpointed store, against JSON.parse alone over the same lines. */
import { benchData, freshFolder } from './bench-data.ts';
import { type BenchFigure, figure, median } from './bench-figure.ts';
import type { BenchRun } from './bench-run.ts';
import { importInChild, runChild } from './run-child.ts';

const ROUNDS = 3;

export async function importPart({ sizes, say }: BenchRun): Promise<BenchFigure[]> {
  const ndjson = await benchData({ ...sizes.store, format: 'ndjson', gzip: false }, say);
  const csv = await benchData({ ...sizes.store, format: 'csv', gzip: true }, say);
  const rates: { parse: number[]; ndjson: number[]; csv: number[] } = { parse: [], ndjson: [], csv: [] };
  for (let round = 0; round < ROUNDS; round++) {
    const parse = await runChild<{ lines: number; seconds: number }>('json-parse-child.js', { logs: ndjson.logs });
    rates.parse.push(parse.lines / parse.seconds);
    for (const [name, data] of [
      ['ndjson', ndjson],
      ['csv', csv],
    ] as const) {
      const options = { data: await freshFolder(name), sites: [data.sitesFile], columns: null, paths: [data.logs] };
      const { lines, seconds } = await importInChild(options);
      rates[name].push(lines / seconds);
    }
  }
  const parse = median(rates.parse);
  const own = median(rates.ndjson);
  const note = `median of ${ROUNDS} rounds; ${ndjson.words}`;
  return [
    figure('import', 'NDJSON into the store', own, 'rows/s', {
      against: { name: 'JSON.parse alone, one thread', value: parse },
      asked: { of: 'ratio', is: 'least', limit: 0.5 },
      note,
    }),
    figure('import', 'CSV in gzip into the store', median(rates.csv), 'rows/s', {
      against: { name: 'NDJSON into the store', value: own },
      asked: { of: 'ratio', is: 'least', limit: 1 },
      note: `median of ${ROUNDS} rounds; ${csv.words}`,
    }),
  ];
}
