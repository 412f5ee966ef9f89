import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, test } from 'vitest';
import type { BackupEvent } from '../../../ingest/vocabulary/finding.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import { eventAt, markedEvents } from '../../../server/answers/marked-events.ts';
import { openPeopleStore } from '../../../server/store/people-store.ts';

const event = (start: number, end: number | null): BackupEvent =>
  ({
    site: 'millpond',
    start: epochMs(start),
    end: end === null ? null : epochMs(end),
    occasion: 'unknown',
    units: {},
  }) as BackupEvent;

describe('marks', () => {
  test('are kept as they were said, each raising the change number; a newer program is not written over', () => {
    const folder = mkdtempSync(join(tmpdir(), 'kilter-people-'));
    const people = openPeopleStore(folder);
    people.addMark('millpond', { t: 5, occasion: 'test', by: 'Joss', at: 9 });
    people.addMark('millpond', { t: 5, occasion: 'grid_loss', by: 'Tova', at: 10 });
    expect(people.change()).toBe(2);
    people.close();
    const again = openPeopleStore(folder);
    expect(again.marks('millpond').map(({ by }) => by)).toEqual(['Joss', 'Tova']);
    expect(again.marks('sawpit')).toEqual([]);
    again.close();
    const db = new Database(join(folder, 'people.sqlite'));
    db.pragma('user_version = 99');
    db.close();
    expect(() => openPeopleStore(folder)).toThrow('the database has version 99');
    rmSync(folder, { recursive: true });
  });

  test('stay with their event when later readings move its start, and never go to another', () => {
    const mark = { t: 600_000, occasion: 'test', by: 'Joss', at: 0 } as const;
    const moved = markedEvents([event(590_000, 900_000), event(5_000_000, 6_000_000)], [mark]);
    expect(moved.map(({ occasion }) => occasion)).toEqual(['test', 'unknown']);
    expect(markedEvents([event(5_000_000, null)], [mark])[0]!.mark).toBeNull();
    expect(markedEvents([event(590_000, null)], [mark])[0]!.occasion).toBe('test');
  });

  test('an event is found by the second of its start', () => {
    expect(eventAt([event(1_000_250, null)], 1_000_000)).toBe(0);
    expect(eventAt([event(1_000_250, null)], 999_999)).toBe(-1);
  });
});
