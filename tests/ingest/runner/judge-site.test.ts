import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { findingsCommand } from '../../../ingest/commands/findings.ts';
import { openStoreToRead } from '../../../ingest/store/open-store.ts';
import { createReadingStore } from '../../../ingest/store/reading-store.ts';
import { dropFolder, millpondLines, run, storeLines } from '../commands/_stored.ts';

let folder = '';
beforeEach(() => {
  folder = storeLines(millpondLines());
});
afterEach(() => dropFolder(folder));

function changeOf(): number {
  const db = openStoreToRead(folder);
  try {
    return createReadingStore(db).change();
  } finally {
    db.close();
  }
}

describe('a command that judges', () => {
  test('raises the change number where its answer is another one, so that a board that is open hears of it', async () => {
    const before = changeOf();
    await run([findingsCommand], ['findings', '--data', folder]);
    expect(changeOf()).toBeGreaterThan(before);
  });
  test('raises nothing where the answer is the same', async () => {
    await run([findingsCommand], ['findings', '--data', folder]);
    const before = changeOf();
    await run([findingsCommand], ['findings', '--data', folder]);
    expect(changeOf()).toBe(before);
  });
});
