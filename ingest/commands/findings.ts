/** `kilter findings`: what changed, since when and why. */

import { kindsNotJudged } from '../runner/not-judged.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory } from '../site/record.ts';
import type { CannotTell } from '../vocabulary/finding.ts';
import { FINDING_KINDS, type FindingKind } from '../vocabulary/finding.ts';
import { type AnalysedSite, analyseEach, chosenSites, nameUnrecorded, openAnalysed } from './analysed-store.ts';
import type { Command, Io } from './command.ts';
import { findingJson } from './finding-json.ts';
import { oneOf, readOptions, refuseRest, required } from './read-options.ts';
import { readTime } from './read-time.ts';
import { type SaidFinding, sayCannotTell, sayFindings, sayLookedAt } from './say-findings.ts';

const NAME = 'findings';
const OPTIONS = { data: 'value', site: 'value', kind: 'value', 'as-of': 'value', json: 'flag' } as const;

const USAGE = `Usage: kilter findings --data DIR [--site S] [--kind K] [--as-of T] [--json]

Analyses what is stored and prints what changed, since when and why: open findings first, the most
urgent on top.

  --data DIR   the data folder that kilter import wrote to
  --site S     this site only
  --kind K     this kind only: ${FINDING_KINDS.slice(0, 4).join(', ')} …
  --as-of T    the answer as if exactly the readings up to T had arrived: 2026-03-28T14:00:00Z or 2026-03-28
  --json       one JSON object a finding, a line each

Examples:
  kilter findings --data ./data
  kilter findings --data ./data --site millpond --kind share_drift --json`;

async function run(args: readonly string[], io: Io): Promise<number> {
  const { options, rest } = readOptions(NAME, OPTIONS, args);
  refuseRest(NAME, rest);
  const folder = required(NAME, 'data', options.data, './data');
  const kind = options.kind === undefined ? null : oneOf(NAME, 'kind', options.kind, FINDING_KINDS);
  const asOf = options['as-of'] === undefined ? null : readTime(NAME, 'as-of', options['as-of']);
  const analysed = openAnalysed(folder, asOf);
  try {
    const { store } = analysed;
    const sites = chosenSites(store, NAME, options.site);
    const said: SaidFinding[] = [];
    const cannotTell: CannotTell[] = [];
    let looked = 0;
    const take = ({ history, answer }: AnalysedSite): void => {
      looked++;
      cannotTell.push(...answer.cannotTell.filter((c) => isAsked(c.kind, kind)));
      for (const finding of answer.findings.filter((f) => isAsked(f.kind, kind))) {
        if (options.json) io.out(JSON.stringify(findingJson(finding)));
        said.push({ finding, zone: zoneAt(history, finding.start) });
      }
    };
    try {
      await analyseEach(analysed, sites, io, take);
    } finally {
      sayRest(io, options.json, [looked, sites.length], said, cannotTell);
      const untouched = kindsNotJudged(kind);
      if (untouched.length > 0) io.err(`Not judged by this version: ${untouched.join(', ').replaceAll('_', ' ')}.`);
    }
    nameUnrecorded(store, options.site, io);
    return 0;
  } finally {
    analysed.close();
  }
}

const isAsked = (kind: FindingKind, asked: FindingKind | null): boolean => asked === null || kind === asked;

export function zoneAt(history: SiteHistory, t: number): string {
  return recordAt(history, t).timezone;
}

/** With --json the findings are out already, and words go beside them. */
function sayRest(
  io: Io,
  isJson: boolean,
  [looked, asked]: readonly [number, number],
  said: readonly SaidFinding[],
  cannotTell: readonly CannotTell[],
): void {
  const say = isJson ? io.err : io.out;
  const width = io.columns;
  const untold = sayCannotTell(cannotTell, width);
  // Where no site could be looked at, there is nothing to say of findings.
  if (!isJson && (looked > 0 || asked === 0)) for (const line of sayFindings(said, width)) say(line);
  if (untold.length > 0 && !isJson) say('');
  for (const line of untold) say(line);
  if (!isJson) say('');
  say(
    sayLookedAt(
      looked,
      asked,
      said.map(({ finding }) => finding),
    ),
  );
}

export const findingsCommand: Command = {
  name: NAME,
  summary: 'what changed at which site, since when and why',
  usage: USAGE,
  run,
};
