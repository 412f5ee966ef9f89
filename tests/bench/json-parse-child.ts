/** JSON.parse alone over the lines of a folder, split beforehand, on one thread: what an import is measured against. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

const { logs } = JSON.parse(process.argv[2]!) as { logs: string };
let lines = 0;
let parsed = 0;
let milliseconds = 0;
for (const name of readdirSync(logs, { recursive: true, encoding: 'utf8' }).sort()) {
  if (!name.endsWith('.ndjson')) continue;
  const texts = readFileSync(join(logs, name), 'utf8')
    .split('\n')
    .filter((line) => line !== '');
  const started = performance.now();
  for (const text of texts) if (JSON.parse(text) !== null) parsed++;
  milliseconds += performance.now() - started;
  lines += texts.length;
}
if (parsed !== lines) throw new Error(`${lines - parsed} of ${lines} lines are null`);
process.stdout.write(`${JSON.stringify({ lines, seconds: milliseconds / 1000 })}\n`);
