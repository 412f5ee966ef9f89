#!/usr/bin/env node
/** The command `kilter`: the only file that knows all commands, and the only one that reads the environment. */
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { checkSitesCommand } from '../ingest/commands/check-sites.ts';
import type { Command } from '../ingest/commands/command.ts';
import { demoCommand } from '../ingest/commands/demo.ts';
import { eventsCommand } from '../ingest/commands/events.ts';
import { findingsCommand } from '../ingest/commands/findings.ts';
import { importCommand } from '../ingest/commands/import.ts';
import { readingsCommand } from '../ingest/commands/readings.ts';
import { runKilter } from '../ingest/commands/run-kilter.ts';
import { sqlCommand } from '../ingest/commands/sql.ts';
import { writeDemo } from '../ingest/demo/write-demo.ts';
import { createProcessIo } from './process-io.ts';
import { startCommands } from './start.ts';

const commands = (version: string): readonly Command[] => [
  ...startCommands({ version, env: process.env }),
  importCommand,
  findingsCommand,
  eventsCommand,
  readingsCommand,
  sqlCommand,
  checkSitesCommand,
  demoCommand(writeDemo),
];

/** From the package this file is part of, compiled or not. */
function readVersion(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'package.json')) && dirname(folder) !== folder) folder = dirname(folder);
  const { version }: { version?: unknown } = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8'));
  return String(version);
}

// Who reads our output may have read enough (`kilter readings … | head`): that is no mistake.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code === 'EPIPE') process.exit(0);
  throw error;
});

const io = createProcessIo(process.stdout, process.stderr, process, Date.now);
const version = readVersion();
const program = { commands: commands(version), version, isDebug: (process.env.KILTER_DEBUG ?? '') !== '' };
const code = await runKilter(program, process.argv.slice(2), io);
await io.flush();
process.exitCode = code;
