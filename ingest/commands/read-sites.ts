/** Site record files and folders from disk, checked in one go. */
import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { type CheckedSites, checkSites, type SitesText } from '../site/check-sites.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';

const NAME = /\.ya?ml$/i;

/**
 * Reads files, and folders of such files.
 *
 * @throws NeedsOperator where a path can't be read
 */
export function readSiteFiles(paths: readonly string[]): CheckedSites {
  return checkSites(paths.flatMap(textsOf));
}

function textsOf(path: string): SitesText[] {
  try {
    if (!statSync(path).isDirectory()) return [{ file: path, text: readFileSync(path, 'utf8') }];
    return readdirSync(path)
      .filter((name) => NAME.test(name))
      .sort()
      .map((name) => ({ file: join(path, name), text: readFileSync(join(path, name), 'utf8') }));
  } catch (error) {
    const isMissing = (error as { code?: string }).code === 'ENOENT';
    throw new NeedsOperator(
      {
        where: path,
        what: isMissing ? 'there is no such file or folder' : (error as Error).message,
        remedy: 'name a file of site records (YAML, one document a site), or a folder of such files',
      },
      { cause: error },
    );
  }
}
