/** A followed folder as a live source: looked at every two seconds, at its own pace. */
import type { SourceStatus } from '../vocabulary/source-status.ts';
import { SECOND_MS } from '../vocabulary/time.ts';
import type { FolderFollower, FollowedFolder, FollowListener } from './follow-folder.ts';
import type { LiveSource } from './live-source.ts';
import { createSourceGauge } from './source-gauge.ts';

export interface FolderConfig extends FollowedFolder {
  readonly kind: 'folder';
  readonly name: string;
}

export interface FolderHouse {
  nowMs(): number;
  say(line: string): void;
  /** The follower of the folder, over a store or a queue. */
  follow(folder: FollowedFolder, listener: FollowListener): FolderFollower;
}

const LOOK_MS = 2 * SECOND_MS;

export function createFolderSource(config: FolderConfig, { nowMs, say, follow }: FolderHouse): LiveSource {
  const gauge = createSourceGauge(config.name, 'folder', nowMs);
  let isStopped = false;
  let wake = (): void => undefined;
  let said = '';
  const follower = follow(config, {
    refused(refusal) {
      gauge.refused(refusal);
      say(`${refusal.where}: ${refusal.what}; ${refusal.remedy}`);
    },
    stored: gauge.stored,
  });
  const look = async (): Promise<void> => {
    try {
      await follower.look(() => isStopped);
      gauge.connected();
      said = '';
    } catch (error) {
      const trouble = error instanceof Error ? error.message : String(error);
      gauge.broken(`${trouble}; it is tried again every ${LOOK_MS / SECOND_MS} s`);
      if (trouble !== said) say(`${config.name}: ${trouble}`);
      said = trouble;
    }
  };
  const rest = (): Promise<void> =>
    new Promise((resolve) => {
      const timer = setTimeout(resolve, LOOK_MS);
      wake = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  let running: Promise<void> = Promise.resolve();
  return {
    name: config.name,
    start() {
      running = (async () => {
        while (!isStopped) {
          await look();
          if (!isStopped) await rest();
        }
      })();
    },
    status: (): SourceStatus => gauge.status(),
    async stop() {
      isStopped = true;
      wake();
      await running;
    },
  };
}
