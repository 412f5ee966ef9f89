import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

export interface SourceFile {
  readonly path: string;
  readonly text: string;
}

/** All TypeScript files below these folders, read. */
export function sourceFiles(folders: readonly string[], ending = /\.tsx?$/): SourceFile[] {
  return folders.flatMap((folder) =>
    readdirSync(folder, { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile() && ending.test(entry.name) && !entry.parentPath.includes('node_modules'))
      .map((entry) => join(entry.parentPath, entry.name))
      .filter((path) => !/(^|\/)(out|\.data|\.peers)\//.test(path))
      .map((path) => ({ path, text: readFileSync(path, 'utf8') })),
  );
}

/** `path:line` of each line that a pattern finds. */
export function linesWith(files: readonly SourceFile[], pattern: RegExp): string[] {
  return files.flatMap(({ path, text }) =>
    text
      .split('\n')
      .flatMap((line, i) => (pattern.test(line) ? [`${path}:${i + 1}: ${line.trim().slice(0, 120)}`] : [])),
  );
}
