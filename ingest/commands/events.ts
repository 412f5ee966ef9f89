/** `kilter events`: every grid loss with a site on its own. */
import { type AnalysedSite, analyseEach, chosenSites, nameUnrecorded, openAnalysed } from './analysed-store.ts';
import type { Command, Io } from './command.ts';
import { eventJson } from './event-json.ts';
import { zoneAt } from './findings.ts';
import { readOptions, refuseRest, required } from './read-options.ts';
import { readTime } from './read-time.ts';
import { type SaidEvent, sayEventCount, sayEvents } from './say-events.ts';

const NAME = 'events';
const OPTIONS = { data: 'value', site: 'value', 'as-of': 'value', json: 'flag' } as const;

const USAGE = `Usage: kilter events --data DIR [--site S] [--as-of T] [--json]

Prints each backup event: a grid loss with the site on its own. Whether the output held, how long it
lasted, what it took from the battery, how close it came.

  --data DIR   the data folder that kilter import wrote to
  --site S     this site only
  --as-of T    the answer as if exactly the readings up to T had arrived: 2026-03-28T14:00:00Z or 2026-03-28
  --json       one JSON object an event, a line each

Examples:
  kilter events --data ./data
  kilter events --data ./data --site millpond --json`;

async function run(args: readonly string[], io: Io): Promise<number> {
  const { options, rest } = readOptions(NAME, OPTIONS, args);
  refuseRest(NAME, rest);
  const folder = required(NAME, 'data', options.data, './data');
  const asOf = options['as-of'] === undefined ? null : readTime(NAME, 'as-of', options['as-of']);
  const analysed = openAnalysed(folder, asOf);
  try {
    const { store } = analysed;
    const sites = chosenSites(store, NAME, options.site);
    const said: SaidEvent[] = [];
    let looked = 0;
    const take = ({ history, answer }: AnalysedSite): void => {
      looked++;
      for (const event of answer.events) {
        if (options.json) io.out(JSON.stringify(eventJson(event)));
        said.push({ event, zone: zoneAt(history, event.start) });
      }
    };
    try {
      await analyseEach(analysed, sites, io, take);
    } finally {
      sayRest(io, options.json, [looked, sites.length], said);
    }
    nameUnrecorded(store, options.site, io);
    return 0;
  } finally {
    analysed.close();
  }
}

/** With --json the events are out already, and words go beside them. */
function sayRest(
  io: Io,
  isJson: boolean,
  [looked, asked]: readonly [number, number],
  said: readonly SaidEvent[],
): void {
  const events = said.map(({ event }) => event);
  const count = sayEventCount(looked, asked, events);
  if (isJson) io.err(count);
  else if (looked === 0 && asked > 0) io.out(count);
  else for (const line of [...sayEvents(said, io.columns), '', count]) io.out(line);
}

export const eventsCommand: Command = {
  name: NAME,
  summary: 'every grid loss with a site on its own, and whether it held',
  usage: USAGE,
  run,
};
