/** The door of a courier: what comes through it lies in the disk queue, in the form in which it is sent on. */
import type { LiveDoor } from '../../intake/live-door.ts';
import { encodeLines } from '../../wire/encode-lines.ts';
import type { DiskQueue } from './disk-queue.ts';
import type { QueueRecord } from './segment-codec.ts';

/** A record is sent whole or not at all: short enough that a poor link gets it through. */
const RECORD_LINES = 100;

export function createQueueDoor(queue: Pick<DiskQueue, 'append'>): LiveDoor {
  return {
    async store(batch) {
      const lines = encodeLines(batch).map(({ text }) => text);
      const records: QueueRecord[] = [];
      for (let at = 0; at < lines.length; at += RECORD_LINES) records.push(lines.slice(at, at + RECORD_LINES));
      await queue.append(records);
      // Whether the server has them already is for the server to say.
      return { stored: batch.lines - batch.refused.length, alreadyThere: 0 };
    },
  };
}
