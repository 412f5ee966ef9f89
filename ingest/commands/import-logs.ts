/** `kilter import` without its options: records and logs into a data folder, with progress and a summary. */
import { readFileSync } from 'node:fs';
import { sayMistake } from '../site/site-mistake.ts';
import { columnMapMistakes } from '../sources/column-map-file.ts';
import { type ImportResult, importFiles } from '../sources/import-files.ts';
import { findLogFiles } from '../sources/log-files.ts';
import { asNeedsOperator, openStore } from '../store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../store/reading-store.ts';
import { NeedsOperator, sayRefusal } from '../vocabulary/refusal.ts';
import { importProgressLine } from './import-progress-line.ts';
import { readSiteFiles } from './read-sites.ts';
import { saySetAside } from './say-set-aside.ts';

export interface ImportLogs {
  readonly data: string;
  /** Site record files or folders; none keeps the records that are stored. */
  readonly sites: readonly string[];
  /** A column map, for CSV of another form. */
  readonly columns: string | null;
  readonly paths: readonly string[];
  /** See importFiles. */
  readonly pendingMaxBytes?: number | undefined;
}

/** What the import says while it works. */
export interface ImportVoice {
  err(line: string): void;
  /** Draws over the last drawn line; only where a person looks on. */
  draw: ((line: string) => void) | null;
  nowMs(): number;
}

export interface ImportSummary {
  readonly files: number;
  readonly lines: number;
  readonly stored: number;
  readonly already_there: number;
  readonly refused: number;
  readonly seconds: number;
}

/** Without a terminal a line of progress comes this often. */
const PLAIN_EVERY_MS = 10_000;
const DRAW_EVERY_MS = 200;

/**
 * @returns the summary and the exit code: 0 all read, 2 lines refused, 1 a file could not be read at all
 * @throws NeedsOperator before anything is stored, where records, map or data folder can't be used
 */
export async function importLogs(
  options: ImportLogs,
  voice: ImportVoice,
): Promise<{ summary: ImportSummary; exitCode: 0 | 1 | 2 }> {
  const startedMs = voice.nowMs();
  const columns = options.columns === null ? null : readColumns(options.columns);
  const checked = readSites(options.sites, voice);
  const store = createReadingStore(openStore(options.data));
  try {
    for (const history of checked?.histories.values() ?? []) store.addRecord(history, voice.nowMs());
    const found = findLogFiles(options.paths);
    for (const refusal of found.refusals) voice.err(sayRefusal(refusal));
    if (found.leftAlone > 0)
      voice.err(`${found.leftAlone} other files in these folders are no logs by their names and were left alone`);
    const result = await importFiles(
      store,
      { files: found.files, columns, pendingMaxBytes: options.pendingMaxBytes },
      listener(voice, startedMs),
    );
    voice.draw?.('');
    store.db.pragma('wal_checkpoint(TRUNCATE)');
    nameStrangers(store, voice);
    for (const line of saySetAside(store, result.sites)) voice.err(line);
    const unread = result.unread + found.refusals.length;
    return {
      summary: summaryOf(result, (voice.nowMs() - startedMs) / 1000),
      exitCode: unread > 0 ? 1 : result.refused > 0 ? 2 : 0,
    };
  } catch (error) {
    voice.draw?.('');
    throw asNeedsOperator(error, options.data);
  } finally {
    store.db.close();
  }
}

function summaryOf({ files, lines, stored, alreadyThere, refused }: ImportResult, seconds: number): ImportSummary {
  return { files, lines, stored, already_there: alreadyThere, refused, seconds: Math.round(seconds * 1000) / 1000 };
}

function readSites(paths: readonly string[], voice: ImportVoice) {
  if (paths.length === 0) return null;
  const checked = readSiteFiles(paths);
  if (checked.refusals.length > 0) {
    for (const mistake of checked.refusals) voice.err(sayMistake(mistake));
    throw new NeedsOperator({
      where: paths.join(', '),
      what: `${checked.refusals.length === 1 ? 'one mistake keeps' : `${checked.refusals.length} mistakes keep`} these records from being used`,
      remedy: 'mend them and import again; nothing was stored',
    });
  }
  for (const { severity, ...mistake } of checked.contradictions) {
    if (severity === 'contradiction') voice.err(sayMistake(mistake));
  }
  return checked;
}

function readColumns(file: string): { text: string; file: string } {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (error) {
    throw new NeedsOperator(
      { where: file, what: (error as Error).message, remedy: 'name the YAML file of the column map' },
      { cause: error },
    );
  }
  const mistakes = columnMapMistakes(text, file);
  if (mistakes.length > 0) {
    throw new NeedsOperator({
      where: mistakes.map(sayRefusal).join('\n'),
      what: 'the column map can not be used',
      remedy: 'mend it and import again; nothing was stored',
    });
  }
  return { text, file };
}

function listener(voice: ImportVoice, startedMs: number) {
  let saidMs = startedMs;
  const everyMs = voice.draw === null ? PLAIN_EVERY_MS : DRAW_EVERY_MS;
  return {
    refused: (refusal: Parameters<typeof sayRefusal>[0]) => {
      voice.draw?.('');
      voice.err(sayRefusal(refusal));
    },
    note: (text: string) => {
      voice.draw?.('');
      voice.err(text);
    },
    progress: (state: { bytes: number; bytesTotal: number; lines: number; path: string }) => {
      const nowMs = voice.nowMs();
      if (nowMs - saidMs < everyMs) return;
      saidMs = nowMs;
      const line = importProgressLine({ ...state, elapsedMs: nowMs - startedMs });
      if (voice.draw === null) voice.err(line);
      else voice.draw(line);
    },
  };
}

/** Sites, units and packs that no record names: stored, named once, judged once they are recorded. */
function nameStrangers(store: ReadingStore, voice: ImportVoice): void {
  for (const site of store.heardSites()) {
    const recorded = store.siteHistory(site);
    if (recorded === null) {
      voice.err(`${site}: no record names this site; its readings are stored and judged once it is recorded (--sites)`);
      continue;
    }
    const named = new Set(
      recorded.history.documents.flatMap((d) => [
        ...d.units.map((u) => `unit ${u.id}`),
        ...d.packs.map((p) => `pack ${p.id}`),
        ...d.meters.map((m) => `meter ${m.id}`),
      ]),
    );
    const strangers = store.sources(site).filter(({ kind, id }) => kind !== 'bank' && !named.has(`${kind} ${id}`));
    for (const { kind, id } of strangers)
      voice.err(`${site}, ${kind} ${id}: no record names it; its readings are stored and judged once it is recorded`);
  }
}
