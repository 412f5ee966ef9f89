/** `npm run bench`: the parts asked for, one after the other; lines on stdout, figures as JSON in tests/bench/out. */
import { cpus } from 'node:os';
import { parseArgs } from 'node:util';
import { writeOut } from './bench-data.ts';
import { type BenchFigure, isMet, ratioOf, sayFigure } from './bench-figure.ts';
import type { BenchRun } from './bench-run.ts';
import { boardPart } from './board-part.ts';
import { findingsPart } from './findings-part.ts';
import { importPart } from './import-part.ts';
import { journalPart } from './journal-part.ts';
import { memoryPart } from './memory-part.ts';
import { mqttPart } from './mqtt-part.ts';
import { readsPart } from './reads-part.ts';
import { sizePart } from './size-part.ts';
import { storeFleet } from './stored-fleet.ts';

const PARTS = ['import', 'size', 'reads', 'findings', 'memory', 'journal', 'mqtt', 'board'] as const;
const DEFAULT_SIZES = {
  store: { sites: 6, days: 7, everyS: 10 },
  findings: { sites: 6, days: 28, everyS: 30 },
  // The quarter of it, too, must be more than an import gathers before it stores.
  memory: { sites: 4, days: 28, everyS: 10 },
  journal: { rows: 2_500_000, narrowRows: 80_000 },
} as const;
const FULL_SIZES = {
  store: { sites: 20, days: 7, everyS: 10 },
  findings: { sites: 24, days: 28, everyS: 30 },
  memory: { sites: 6, days: 28, everyS: 10 },
  journal: { rows: 20_000_000, narrowRows: 300_000 },
} as const;

const USAGE = `Usage: npm run bench -- [--only ${PARTS.join(',')}] [--full]

  --only PARTS  these parts, with commas between them
  --full        the full sizes: ${FULL_SIZES.store.sites} sites × 7 days × 10 s, findings over ${FULL_SIZES.findings.sites} sites × 28 days × 30 s`;

function readArguments(): { readonly only: ReadonlySet<string>; readonly full: boolean } {
  const { values } = parseArgs({ options: { only: { type: 'string' }, full: { type: 'boolean' } } });
  const only = values.only?.split(',') ?? PARTS;
  const unknown = only.filter((part) => !PARTS.some((one) => one === part));
  if (unknown.length > 0) throw new RangeError(`There is no part ${unknown.join(', ')}\n\n${USAGE}`);
  return { only: new Set(only), full: values.full === true };
}

async function storeParts(run: BenchRun, only: ReadonlySet<string>): Promise<BenchFigure[]> {
  const fleet = await storeFleet(run);
  try {
    const size = only.has('size') ? await sizePart(fleet) : [];
    const reads = only.has('reads') ? await readsPart(fleet) : [];
    return [...size, ...reads];
  } finally {
    fleet.close();
  }
}

const { only, full } = readArguments();
const started = performance.now();
const run: BenchRun = {
  sizes: full ? FULL_SIZES : DEFAULT_SIZES,
  say: (line) => process.stderr.write(`     ${line}\n`),
};
const parts: readonly (readonly [isAsked: boolean, measure: () => Promise<BenchFigure[]>])[] = [
  [only.has('import'), () => importPart(run)],
  [only.has('size') || only.has('reads'), () => storeParts(run, only)],
  [only.has('findings'), () => findingsPart(run)],
  [only.has('memory'), () => memoryPart(run)],
  [only.has('journal'), () => journalPart(run)],
  [only.has('mqtt'), () => mqttPart(run)],
  [only.has('board'), () => boardPart(run)],
];
const figures: BenchFigure[] = [];
for (const [isAsked, measure] of parts) {
  if (!isAsked) continue;
  const measured = await measure();
  figures.push(...measured);
  for (const one of measured) process.stdout.write(`${sayFigure(one)}\n`);
}
const machine = { node: process.version, cpu: cpus()[0]?.model ?? '', cores: cpus().length };
const results = figures.map((one) => ({ ...one, ratio: ratioOf(one), met: isMet(one) }));
const json = JSON.stringify({ machine, sizes: run.sizes, results }, null, 2);
const out = await writeOut('results.json', `${json}\n`);
const missed = figures.filter((one) => isMet(one) === false).length;
const seconds = Math.round((performance.now() - started) / 1000);
process.stdout.write(
  `${missed === 0 ? 'all that is asked is met' : `${missed} of what is asked is missed`} · ${seconds} s · ${out}\n`,
);
process.exitCode = missed === 0 ? 0 : 1;
