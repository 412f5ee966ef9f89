/** `kilter import`: logs and site records into a data folder. */
import { NeedsOperator } from '../vocabulary/refusal.ts';
import type { Command, Io } from './command.ts';
import { importLogs } from './import-logs.ts';
import { readOptions, required } from './read-options.ts';

const NAME = 'import';
const OPTIONS = { data: 'value', sites: 'value', columns: 'value' } as const;

const USAGE = `Usage: kilter import --data DIR [--sites FILE.yaml] [--columns MAP.yaml] PATH…

Reads log files into a data folder: .ndjson and .csv, each also with .gz or .zst behind it; folders are
searched through. Any order, several sites mixed, repeated lines: what is stored is the same. A run that
was broken off goes on where it stopped when it is given the same paths again.

  --data DIR         the data folder; made where it is not there yet
  --sites FILE       site records: a YAML file with one document a site, or a folder of such files
  --columns MAP      a column map (YAML) that says what each column of a CSV of another form is

It ends with one JSON object on stdout: files, lines, stored, already_there, refused, seconds. Lines that
were refused are named on stderr. Exit code 0: all was read; 2: lines were refused; 1: a file could not be
read at all.

Examples:
  kilter import --data ./data --sites sites.yaml ./logs
  kilter import --data ./data --columns old-logger.yaml march.csv april.csv.gz`;

async function run(args: readonly string[], io: Io): Promise<number> {
  const { options, rest } = readOptions(NAME, OPTIONS, args);
  const data = required(NAME, 'data', options.data, './data');
  if (rest.length === 0) {
    throw new NeedsOperator({
      where: `kilter ${NAME}`,
      what: 'no log file or folder is named',
      remedy: 'name them after the options; see kilter help import',
    });
  }
  const sites = options.sites === undefined ? [] : [options.sites];
  const voice = { err: io.err, draw: io.errIsTerminal ? io.draw : null, nowMs: () => io.now() as number };
  const { summary, exitCode } = await importLogs({ data, sites, columns: options.columns ?? null, paths: rest }, voice);
  io.out(JSON.stringify(summary));
  return exitCode;
}

export const importCommand: Command = {
  name: NAME,
  summary: 'logs and site records into a data folder',
  usage: USAGE,
  run,
};
