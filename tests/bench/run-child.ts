/** Runs a compiled file of the bench in a process of its own. */
import { spawn } from 'node:child_process';
import { join } from 'node:path';
import type { ImportLogs } from '../../ingest/commands/import-logs.ts';

/** @returns the last line of its output, parsed. @throws Error where it fails, with what it said */
export async function runChild<Answer>(file: string, argument: unknown): Promise<Answer> {
  const child = spawn(process.execPath, [join(import.meta.dirname, file), JSON.stringify(argument)], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let out = '';
  let err = '';
  child.stdout.on('data', (piece) => {
    out += piece;
  });
  child.stderr.on('data', (piece) => {
    err += piece;
  });
  const code = await new Promise<number | null>((resolve, reject) => {
    child.on('error', reject);
    child.on('close', resolve);
  });
  if (code !== 0) throw new Error(`${file} ended with ${code}:\n${err}`);
  return JSON.parse(out.trim().split('\n').at(-1)!) as Answer;
}

export interface ImportFigures {
  readonly lines: number;
  readonly stored: number;
  readonly refused: number;
  readonly seconds: number;
  readonly exitCode: number;
  readonly maxRssMb: number;
}

/** @throws Error where not every line was read: the rate of half an import says nothing */
export async function importInChild(options: ImportLogs): Promise<ImportFigures> {
  const figures = await runChild<ImportFigures>('import-child.js', options);
  if (figures.exitCode !== 0) throw new Error(`An import of the bench ended with ${figures.exitCode}`);
  return figures;
}
