/** Which files of a folder are logs, and in what form. */
import { readdirSync, realpathSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Refusal } from '../vocabulary/refusal.ts';

export interface LogFile {
  readonly path: string;
  readonly format: 'ndjson' | 'csv';
  readonly packing: 'none' | 'gzip' | 'zstd';
  readonly bytes: number;
  /** What makes it the same file at the next look: size and time of change. */
  readonly identity: string;
}

const NAME = /\.(ndjson|csv)(\.gz|\.zst)?$/i;
const NAMES = '.ndjson or .csv, each also with .gz or .zst behind it';

export interface FoundFiles {
  readonly files: readonly LogFile[];
  /** Paths that can't be read or are no logs. */
  readonly refusals: readonly Refusal[];
  /** Files in folders that are something else. */
  readonly leftAlone: number;
}

/** All log files of the paths, folders searched through, in order of path. */
export function findLogFiles(paths: readonly string[]): FoundFiles {
  const files = new Map<string, LogFile>();
  const refusals: Refusal[] = [];
  let leftAlone = 0;
  /** A link may lead back to a folder above it. */
  const searched = new Set<string>();
  const visit = (path: string, isNamed: boolean): void => {
    try {
      const stat = statSync(path);
      if (stat.isDirectory()) {
        const folder = realpathSync(path);
        if (searched.has(folder)) return;
        searched.add(folder);
        for (const name of readdirSync(path).sort()) if (!name.startsWith('.')) visit(join(path, name), false);
        return;
      }
      const match = NAME.exec(path);
      if (match === null) {
        if (isNamed) refusals.push({ where: path, what: 'this is no log by its name', remedy: `name it ${NAMES}` });
        else leftAlone++;
        return;
      }
      const packing = match[2] === undefined ? 'none' : match[2].toLowerCase() === '.gz' ? 'gzip' : 'zstd';
      const format = match[1]!.toLowerCase() as LogFile['format'];
      files.set(path, {
        path,
        format,
        packing,
        bytes: stat.size,
        identity: `${stat.size} ${Math.round(stat.mtimeMs)}`,
      });
    } catch (error) {
      refusals.push(fileRefusal(path, error));
    }
  };
  for (const path of paths) visit(path, true);
  return { files: [...files.values()], refusals, leftAlone };
}

const REASONS: Readonly<Record<string, readonly [what: string, remedy: string]>> = {
  ENOENT: ['there is no such file or folder', 'check the path'],
  EACCES: ['it may not be read', 'change its rights, or run as a user who may read it'],
  EISDIR: ['it is a folder', 'name the files in it'],
  Z_DATA_ERROR: ['its gzip data are damaged', 'fetch the file again from where it was written'],
  Z_BUF_ERROR: ['its gzip data end too early', 'fetch the file again: it was cut off on the way'],
};

/** What a file's error means, in words. */
export function fileRefusal(path: string, error: unknown): Refusal {
  const code = String((error as { code?: unknown }).code ?? '');
  const [what, remedy] = REASONS[code] ?? [error instanceof Error ? error.message : String(error), 'check the file'];
  return { where: path, what, remedy };
}
