/** `{ kind: folder, path: ./incoming, columns: ./map.yaml }` */
import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { z } from 'zod';
import { columnMapMistakes } from './column-map-file.ts';
import type { FolderConfig } from './folder-source.ts';
import { type ConfigHouse, readEntry, type SourceReading } from './source-config.ts';

const text = (remedy: string) => z.string({ error: remedy }).min(1, { error: remedy });
const schema = z.strictObject(
  {
    kind: z.literal('folder'),
    path: text('give the folder to which logs are written'),
    columns: text('name the YAML file of a column map').optional(),
  },
  { error: 'write { kind: folder, path: ./incoming }' },
);

export function readFolderConfig(value: unknown, { folder }: ConfigHouse): SourceReading<FolderConfig> {
  return readEntry(value, schema, ({ path, columns }, fault) => ({
    kind: 'folder',
    name: `folder ${path}`,
    path: resolve(folder, path),
    columns:
      columns === undefined
        ? null
        : readMap(resolve(folder, columns), (what, remedy) => fault(['columns'], what, remedy)),
  }));
}

/** The text of a column map, with each of its mistakes. */
function readMap(file: string, fault: (what: string, remedy: string) => void): FolderConfig['columns'] {
  try {
    const map = { text: readFileSync(file, 'utf8'), file };
    for (const { where, what, remedy } of columnMapMistakes(map.text, file)) fault(`${where}: ${what}`, remedy);
    return map;
  } catch (error) {
    fault(error instanceof Error ? error.message : String(error), 'name the YAML file of a column map');
    return null;
  }
}
