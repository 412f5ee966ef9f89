/** What a source must know of before its process ended: one small file each, written whole or not at all. */
import { createHash } from 'node:crypto';
import { closeSync, fsyncSync, mkdirSync, openSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

export interface SourceMemory {
  /** null: nothing was kept, or it can't be read any more. */
  load(): unknown;
  /** Resolved on disk when it returns. @throws what the disk says: then the one before still stands */
  save(value: unknown): void;
}

/** @param folder is made when something is kept first. @param name of the source, as in its status */
export function createSourceMemory(folder: string, name: string): SourceMemory {
  const file = join(folder, `${createHash('sha256').update(name).digest('hex').slice(0, 24)}.json`);
  return {
    load() {
      try {
        const kept: unknown = JSON.parse(readFileSync(file, 'utf8'));
        return kept;
      } catch {
        return null;
      }
    },
    save(value) {
      mkdirSync(folder, { recursive: true });
      const fresh = `${file}.tmp`;
      try {
        synced(openSync(fresh, 'w', 0o600), (descriptor) => writeFileSync(descriptor, JSON.stringify(value)));
        renameSync(fresh, file);
      } catch (error) {
        rmSync(fresh, { force: true });
        throw error;
      }
      synced(openSync(folder, 'r'), () => undefined);
    },
  };
}

function synced(descriptor: number, write: (descriptor: number) => unknown): void {
  try {
    write(descriptor);
    fsyncSync(descriptor);
  } finally {
    closeSync(descriptor);
  }
}
