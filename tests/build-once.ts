/** Compiles the program before the tests, where a source is newer than the last build: tests start it as a process of its own. */
import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

const STAMP = 'dist/.built';
const SOURCES = ['ingest', 'server', 'tsconfig.json'];
/** Types are checked by a command of their own: here only the output is wanted, and soon. */
const TSC = ['-p', 'tsconfig.json', '--noCheck'];
/** tsc's exit code where it found mistakes but wrote the output all the same: they are the type check's to report. */
const WRITTEN_WITH_MISTAKES = 2;

export function setup(): void {
  const newest = Math.max(...SOURCES.filter(existsSync).map(newestChangeMs));
  if (existsSync(STAMP) && statSync(STAMP).mtimeMs > newest) return;
  const { status, stdout } = spawnSync('node_modules/.bin/tsc', TSC, { encoding: 'utf8' });
  if (status !== 0 && status !== WRITTEN_WITH_MISTAKES) throw new Error(`The program does not compile:\n${stdout}`);
  writeFileSync(STAMP, '');
}

function newestChangeMs(path: string): number {
  const stat = statSync(path);
  if (!stat.isDirectory()) return stat.mtimeMs;
  return Math.max(stat.mtimeMs, ...readdirSync(path).map((name) => newestChangeMs(join(path, name))));
}
