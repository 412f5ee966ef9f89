/** `kilter check-sites`: every mistake and contradiction in site records, with its place. */
import { NeedsOperator } from '../vocabulary/refusal.ts';
import type { Command, Io } from './command.ts';
import { readOptions } from './read-options.ts';
import { readSiteFiles } from './read-sites.ts';
import { mustBeMended, sayCheckSummary, sayWeighed, weighedJson, weighedMistakes } from './say-site-check.ts';

const NAME = 'check-sites';
const OPTIONS = { json: 'flag' } as const;

const USAGE = `Usage: kilter check-sites PATH… [--json]

Checks site records before they are used: every mistake, every contradiction (two leads, a broken link
chain, a battery cable to the wrong unit …) and what common practice does otherwise, each with its file,
line and column, what is wrong and what would be right. Nothing is stored.

  PATH     a file of site records (YAML, one document a site), or a folder of such files
  --json   one JSON object a line

It ends with exit code 2 if a record can't be used or contradicts itself, else with 0.

Examples:
  kilter check-sites sites.yaml
  kilter check-sites ./sites --json`;

async function run(args: readonly string[], io: Io): Promise<number> {
  const { options, rest } = readOptions(NAME, OPTIONS, args);
  if (rest.length === 0) {
    throw new NeedsOperator({
      where: `kilter ${NAME}`,
      what: 'no file is named',
      remedy: 'name files or folders of site records, for example sites.yaml',
    });
  }
  const checked = readSiteFiles(rest);
  const mistakes = weighedMistakes(checked);
  for (const mistake of mistakes) io.out(options.json ? JSON.stringify(weighedJson(mistake)) : sayWeighed(mistake));
  const summary = sayCheckSummary(checked, mistakes);
  if (options.json) io.err(summary);
  else io.out(summary);
  return mistakes.some(mustBeMended) ? 2 : 0;
}

export const checkSitesCommand: Command = {
  name: NAME,
  summary: 'mistakes and contradictions in site records',
  usage: USAGE,
  run,
};
