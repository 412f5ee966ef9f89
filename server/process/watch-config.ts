/** Follows the configuration while the process runs: read again when the file changes, and on SIGHUP. */
import { statSync } from 'node:fs';
import { NeedsOperator } from '../../ingest/vocabulary/refusal.ts';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { Config } from './read-config.ts';

export interface WatchHouse {
  /** Reads the file whole. @throws NeedsOperator with every mistake */
  read(): Config;
  /** What holds from now on; what may not change while the process runs is as it was. */
  changed(config: Config): Promise<void> | void;
  say(line: string): void;
}

export interface ConfigWatch {
  /** Reads the file now, changed or not: profiles and column maps that it names may have. */
  reread(): Promise<void>;
  stop(): void;
}

/** Two looks at one file's head a second and a half apart at most: nobody waits longer for what was saved. */
const LOOK_EVERY_MS = 1.5 * SECOND_MS;

/** @param first what the process started with */
export function watchConfig(file: string, first: Config, { read, changed, say }: WatchHouse): ConfigWatch {
  let known = identityOf(file);
  let holds = first;
  let turn: Promise<void> = Promise.resolve();
  const look = async (): Promise<void> => {
    let next: Config;
    try {
      next = read();
    } catch (error) {
      say(`${error instanceof NeedsOperator ? error.message : String(error)}; the configuration as it was goes on`);
      return;
    }
    if (JSON.stringify(next) === JSON.stringify(holds)) return;
    if (next.data !== holds.data || JSON.stringify(next.listen) !== JSON.stringify(holds.listen))
      say(`${file}: data and listen hold from the next start on; everything else holds now`);
    holds = { ...next, data: holds.data, listen: holds.listen };
    try {
      await changed(holds);
      say(`${file}: read again; it has ${holds.sources.length} ${holds.sources.length === 1 ? 'source' : 'sources'}`);
    } catch (error) {
      say(`${file}: ${error instanceof Error ? error.message : String(error)}`);
    }
  };
  const reread = (): Promise<void> => {
    turn = turn.then(look);
    return turn;
  };
  const timer = setInterval(() => {
    const now = identityOf(file);
    // A file that is gone is most often one that is just being written anew.
    if (now === null || now === known) return;
    known = now;
    void reread();
  }, LOOK_EVERY_MS);
  const hangup = (): void => void reread();
  process.on('SIGHUP', hangup);
  return {
    reread,
    stop() {
      clearInterval(timer);
      process.off('SIGHUP', hangup);
    },
  };
}

function identityOf(file: string): string | null {
  try {
    const { ino, size, mtimeMs } = statSync(file);
    return `${ino} ${size} ${mtimeMs}`;
  } catch {
    return null;
  }
}
