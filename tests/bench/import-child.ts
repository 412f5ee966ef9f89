/** A process of its own for one import, so that its time and memory are its own: options as JSON in, figures as JSON out. */
import { type ImportLogs, importLogs } from '../../ingest/commands/import-logs.ts';

const options = JSON.parse(process.argv[2]!) as ImportLogs;
const started = performance.now();
const { summary, exitCode } = await importLogs(options, {
  err: (line) => process.stderr.write(`${line}\n`),
  draw: null,
  nowMs: () => Date.now(),
});
const seconds = (performance.now() - started) / 1000;
const { maxRSS } = process.resourceUsage();
process.stdout.write(`${JSON.stringify({ ...summary, seconds, exitCode, maxRssMb: maxRSS / 1024 })}\n`);
