import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createIntake } from '../../ingest/intake/intake.ts';
import { type Db, openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { createNdjsonDecoder } from '../../ingest/wire/ndjson.ts';
import { groundOf, line, settingsLine } from './_meeting-lines.ts';

let folder = '';
let db: Db;
let sites = 0;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-order-'));
  db = openStore(folder);
  db.pragma('synchronous = OFF');
});
afterAll(() => {
  db.close();
  rmSync(folder, { recursive: true });
});

/** Stores the lines under a site of their own. */
function storedFrom(
  lines: readonly string[],
  cuts: ReadonlySet<number>,
): { ground: string; stored: number; alreadyThere: number } {
  const site = `site-${++sites}`;
  const intake = createIntake(createReadingStore(db));
  let stored = 0;
  let alreadyThere = 0;
  const flush = (): void => {
    const counts = intake.flush();
    stored += counts.stored;
    alreadyThere += counts.alreadyThere;
  };
  lines.forEach((text, i) => {
    const batch = createNdjsonDecoder().decode(Buffer.from(`${text.replace('"millpond"', `"${site}"`)}\n`), i + 1);
    expect(batch.refused).toEqual([]);
    intake.take(batch);
    if (cuts.has(i)) flush();
  });
  flush();
  const ground = groundOf(db, site);
  return { ground, stored, alreadyThere };
}

describe('what is stored depends on what was said, never on the order', () => {
  test('shuffled, repeated and cut into other transactions, the ground tables are the same', () => {
    let contradictions = 0;
    fc.assert(
      fc.property(
        fc.array(fc.oneof({ weight: 8, arbitrary: line }, { weight: 1, arbitrary: settingsLine }), {
          minLength: 2,
          maxLength: 40,
        }),
        fc.infiniteStream(fc.nat()),
        (lines, randoms) => {
          const random = randoms[Symbol.iterator]();
          const next = (below: number): number => random.next().value % below;
          const shuffled = [...lines, lines[next(lines.length)]!];
          for (let i = shuffled.length - 1; i > 0; i--) {
            const j = next(i + 1);
            [shuffled[i], shuffled[j]] = [shuffled[j]!, shuffled[i]!];
          }
          const inOrder = storedFrom(lines, new Set());
          const otherwise = storedFrom(shuffled, new Set(lines.map(() => next(lines.length))));
          expect(otherwise.ground).toBe(inOrder.ground);
          expect(inOrder.stored + inOrder.alreadyThere).toBe(lines.length);
          expect(otherwise.stored + otherwise.alreadyThere).toBe(lines.length + 1);
          if (inOrder.ground.includes('"replaces":false')) contradictions++;
        },
      ),
      { numRuns: 150 },
    );
    expect(contradictions).toBeGreaterThan(50);
  });

  test('the same lines again are all already there', () => {
    fc.assert(
      fc.property(fc.array(line, { minLength: 1, maxLength: 25 }), (lines) => {
        const once = storedFrom(lines, new Set());
        const twice = storedFrom([...lines, ...lines], new Set([lines.length - 1]));
        expect(twice.ground).toBe(once.ground);
        expect(twice.alreadyThere).toBe(once.alreadyThere + lines.length);
      }),
      { numRuns: 40 },
    );
  });
});
