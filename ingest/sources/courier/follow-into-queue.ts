/** Followed folders over a queue: how far they are read stands in one small file a folder. */
import { createHash } from 'node:crypto';
import { readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import type { LiveDoor } from '../../intake/live-door.ts';
import { createDecoding } from '../decoding.ts';
import { fileBytes } from '../file-bytes.ts';
import type { DecodedPiece } from '../file-decoder.ts';
import type { FollowedFolder, FollowHouse, FollowListener } from '../follow-folder.ts';
import { fileRefusal, type LogFile } from '../log-files.ts';

const placeSchema = z.record(z.string(), z.object({ identity: z.string(), line: z.number(), done: z.boolean() }));

/** @param folder of the queue */
export function followIntoQueue(folder: string, door: LiveDoor, followed: FollowedFolder): FollowHouse {
  const file = join(folder, `places-${createHash('sha256').update(followed.path).digest('hex').slice(0, 16)}.json`);
  const places = readPlaces(file);
  return {
    door,
    places: {
      file: (path) => places.get(path) ?? null,
      put(path, at) {
        places.set(path, at);
        // After a loss of power the file may be an older one: what was read since is read, and sent, again.
        writeFileSync(`${file}.tmp`, JSON.stringify(Object.fromEntries(places)));
        renameSync(`${file}.tmp`, file);
      },
      refused: () => undefined,
    },
    takeWhole: (log, { columns }, listener) => takeWhole(log, columns, door, listener),
  };
}

function readPlaces(file: string): Map<string, { identity: string; line: number; done: boolean }> {
  try {
    return new Map(Object.entries(placeSchema.parse(JSON.parse(readFileSync(file, 'utf8')))));
  } catch {
    // None yet, or one that was cut off: all is read again.
    return new Map();
  }
}

async function takeWhole(
  file: LogFile,
  columns: FollowedFolder['columns'],
  door: LiveDoor,
  listener: FollowListener,
): Promise<void> {
  const decoding = createDecoding();
  const take = async (piece: DecodedPiece): Promise<void> => {
    for (const refusal of piece.unreadable) listener.refused(refusal);
    for (const batch of piece.batches) {
      await door.store(batch);
      listener.stored(batch);
      for (const { line, what, remedy } of batch.refused)
        listener.refused({ where: `${file.path}, line ${line}`, what, remedy });
    }
  };
  try {
    decoding.open({
      path: file.path,
      format: file.format,
      columns: file.format === 'csv' ? columns : null,
      fromLine: 1,
    });
    const bytes = fileBytes(file, () => undefined);
    try {
      for (;;) {
        let next: IteratorResult<Uint8Array, void>;
        try {
          next = await bytes.next();
        } catch (error) {
          // What came before the damage is taken; what is wrong in storing goes up instead.
          listener.refused(fileRefusal(file.path, error));
          return;
        }
        if (next.done === true) break;
        await take(await decoding.feed(next.value));
      }
    } finally {
      await bytes.return(undefined);
    }
    await take(await decoding.end());
  } finally {
    await decoding.close();
  }
}
