/** The push source of a server: it stores through a connection of its own, and says how it fares. */
import { createLiveDoor } from '../../ingest/intake/live-door.ts';
import { keepSources } from '../../ingest/sources/keep-sources.ts';
import type { PushConfig } from '../../ingest/sources/push/push-config.ts';
import { createPushSource, type PushSource } from '../../ingest/sources/push/push-source.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { createSourceStatusStore } from '../../ingest/store/source-status-store.ts';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';

export interface PushHost {
  current(): PushSource | null;
  /** Takes the push source of a configuration in place of the one there is; null: there is none. */
  set(config: PushConfig | null): Promise<void>;
  /** Waits for what is being stored. */
  stop(): Promise<void>;
}

export interface PushHostHouse {
  nowMs(): number;
  say(line: string): void;
}

const SAY_EVERY_MS = 3 * SECOND_MS;

export function createPushHost(data: string, { nowMs, say }: PushHostHouse): PushHost {
  const db = openStore(data);
  const door = createLiveDoor(createReadingStore(db));
  const statuses = createSourceStatusStore(db);
  let source: PushSource | null = null;
  let said = '';
  let troubled = '';
  const kept = keepSources<PushConfig>(
    (config) => {
      source = createPushSource(config, door, {
        nowMs,
        elapsedMs: () => performance.now(),
        keepClock: statuses.putClock,
      });
      return source;
    },
    { nowMs, say },
  );
  const write = (): void => {
    try {
      const rows = kept.statuses();
      // Once more when there is none any more, and not again.
      if (rows.length > 0 || said !== '[]') statuses.put('server', nowMs(), rows);
      said = JSON.stringify(rows);
      troubled = '';
    } catch (error) {
      const text = error instanceof Error ? error.message : String(error);
      // Once for each trouble: a disk that is full stays so for hours.
      if (text !== troubled) say(`how the push source fares could not be written: ${text}`);
      troubled = text;
    }
  };
  const timer = setInterval(write, SAY_EVERY_MS);
  return {
    current: () => source,
    async set(config) {
      if (config === null) source = null;
      await kept.set(config === null ? [] : [config]);
      write();
    },
    async stop() {
      clearInterval(timer);
      await kept.stop();
      write();
      db.close();
    },
  };
}
