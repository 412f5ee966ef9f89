/**
 * A process to be killed: imports or analyses with the compiled program, as it is told by the JSON in its first argument.
 * Where `killAt` is given it kills itself at that transaction, before or after its commit.
 */
import Database from 'better-sqlite3';
import { openAnalysed } from '../../dist/ingest/commands/analysed-store.js';
import { importLogs } from '../../dist/ingest/commands/import-logs.js';
import { NeedsOperator } from '../../dist/ingest/vocabulary/refusal.js';

const { work, killAt = null, sites = [], data, ...rest } = JSON.parse(process.argv[2]);

let transactions = 0;
const die = () => process.kill(process.pid, 'SIGKILL');
const original = Database.prototype.transaction;
Database.prototype.transaction = function transaction(body) {
  const inner = original.call(this, (...args) => {
    transactions++;
    const answer = body(...args);
    if (killAt?.transaction === transactions && killAt.when === 'before commit') die();
    return answer;
  });
  const run =
    (way) =>
    (...args) => {
      const answer = way(...args);
      if (killAt?.transaction === transactions && killAt.when === 'after commit') die();
      return answer;
    };
  return Object.assign(run(inner), { immediate: run(inner.immediate) });
};

async function doImport() {
  const voice = { err: (line) => process.stderr.write(`${line}\n`), draw: null, nowMs: Date.now };
  const { summary, exitCode } = await importLogs({ data, sites, columns: null, ...rest }, voice);
  return { answer: { ...summary, peakKb: process.resourceUsage().maxRSS }, exitCode };
}

function doAnalyse() {
  const analysed = openAnalysed(data, null);
  for (const site of analysed.store.recordSites()) analysed.analyse(site);
  analysed.close();
  return { answer: {}, exitCode: 0 };
}

try {
  const { answer, exitCode } = work === 'import' ? await doImport() : doAnalyse();
  process.stdout.write(JSON.stringify({ ...answer, transactions }));
  process.exitCode = exitCode;
} catch (error) {
  process.stderr.write(error instanceof NeedsOperator ? `${error.message}\n` : `unexpected: ${error.stack}\n`);
  process.exitCode = 1;
}
