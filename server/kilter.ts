#!/usr/bin/env node
/** The command `kilter`: the only file that reads the environment. */
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { runKilter } from '../ingest/commands/run-kilter.ts';
import { commandsFor } from './commands.ts';
import { createProcessIo } from './process-io.ts';

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
const words = process.argv.slice(2);
const commands = await commandsFor(words, {
  version,
  env: process.env,
  writeDemo: async () => (await import('../ingest/demo/write-demo.ts')).writeDemo,
});
const program = { commands, version, isDebug: (process.env.KILTER_DEBUG ?? '') !== '' };
const code = await runKilter(program, words, io);
await io.flush();
process.exitCode = code;
