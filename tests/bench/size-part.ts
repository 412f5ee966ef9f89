/** Bytes a stored sample on disk. */
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { type BenchFigure, figure } from './bench-figure.ts';
import { bytesOf, type StoredFleet } from './stored-fleet.ts';

export async function sizePart(fleet: StoredFleet): Promise<BenchFigure[]> {
  const own = (await readdir(fleet.folder)).map((name) => join(fleet.folder, name));
  const each = async (paths: readonly string[]): Promise<number> => (await bytesOf(paths)) / fleet.samples;
  const value = await each(own);
  return [
    figure('size', 'stored, all files of the data folder', value, 'bytes/sample', {
      against: { name: `${fleet.duckName}, the same integers`, value: await each([fleet.duckFile]) },
      asked: { of: 'ratio', is: 'most', limit: 0.8 },
      note: fleet.words,
    }),
    figure('size', 'the same', value, 'bytes/sample', {
      against: { name: `${fleet.duckName}, DOUBLE in own units`, value: await each([fleet.duckDoubleFile]) },
      note: 'for information',
    }),
  ];
}
