/** `kilter start`: without a configuration, the demo fleet from nothing to findings. */
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { Command, Io } from '../ingest/commands/command.ts';
import { PLAIN_FLEET, type WriteDemo } from '../ingest/commands/demo.ts';
import { eventsCommand } from '../ingest/commands/events.ts';
import { findingsCommand } from '../ingest/commands/findings.ts';
import { readOptions, refuseRest } from '../ingest/commands/read-options.ts';

const NAME = 'start';
const OPTIONS = { data: 'value' } as const;
const DEMO_FOLDER = './data/demo';
/** Written last, so it stands for a demo that is whole. */
const LAST_WRITTEN = 'labels.json';

const USAGE = `Usage: kilter start [--data DIR]

Shows Kilter at work on a simulated fleet: writes the demo fleet unless it is there, imports it, and
prints its grid losses and what was found. What is there already is neither written nor stored twice.

  --data DIR   where the fleet and its data are kept (${DEMO_FOLDER})

Examples:
  kilter start
  kilter start --data /tmp/kilter-demo`;

/** What `kilter start` does with the rest of the house: both are handed in. */
export interface StartWith {
  readonly writeDemo: WriteDemo;
  readonly importCommand: Command;
}

/** Its answer is no part of the answer of `kilter start`. */
const aside = (io: Io): Io => ({ ...io, out: io.err });

async function run(args: readonly string[], io: Io, { writeDemo, importCommand }: StartWith): Promise<number> {
  const { options, rest } = readOptions(NAME, OPTIONS, args);
  refuseRest(NAME, rest);
  const folder = options.data ?? DEMO_FOLDER;
  if (existsSync(join(folder, LAST_WRITTEN))) io.err(`the demo fleet is in ${folder} already`);
  else {
    io.err(`writing the demo fleet to ${folder}: ${PLAIN_FLEET.sites} invented sites, ${PLAIN_FLEET.days} days`);
    await writeDemo({ ...PLAIN_FLEET, out: folder, say: io.err });
  }
  io.err('importing its logs');
  const sites = join(folder, 'sites.yaml');
  const code = await importCommand.run(['--data', folder, '--sites', sites, join(folder, 'logs')], aside(io));
  // Lines that were refused are named already; they are no reason to keep the rest back.
  if (code === 1) return code;
  io.err('looking for what changed');
  io.out('Grid losses');
  await eventsCommand.run(['--data', folder], io);
  io.out('');
  io.out('Findings');
  await findingsCommand.run(['--data', folder], io);
  for (const line of nextSteps(folder)) io.err(line);
  return 0;
}

function nextSteps(folder: string): string[] {
  return [
    '',
    'What next:',
    `  kilter findings --data ${folder} --json           the figures behind each finding`,
    `  kilter readings --data ${folder} --site SITE --unit u1 --every 1h`,
    `  kilter sql --data ${folder} 'select site, count(*) from findings group by site'`,
    '  kilter import --data ./data --sites sites.yaml LOGS    your own sites',
    '  kilter help',
  ];
}

export function startCommand(house: StartWith): Command {
  return {
    name: NAME,
    summary: 'the demo fleet, from its logs to its findings',
    usage: USAGE,
    run: (args, io) => run(args, io, house),
  };
}
