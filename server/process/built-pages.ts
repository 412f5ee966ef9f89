/** The built pages: where they are, and how they come to be there. */
import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The folder of the package that this file is part of, compiled or not. */
export function packageFolder(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'package.json')) && dirname(folder) !== folder) folder = dirname(folder);
  return folder;
}

const PAGES = join('dist', 'web');
const BUILDER = join('node_modules', 'vite', 'bin', 'vite.js');
const CONFIG = join('web', 'vite.config.ts');

/**
 * The folder of the pages, built where they are not there yet.
 *
 * @returns null where they can't be built: the API is served all the same
 */
export async function builtPages(say: (line: string) => void, root = packageFolder()): Promise<string | null> {
  const pages = join(root, PAGES);
  if (existsSync(join(pages, 'index.html'))) return pages;
  if (!existsSync(join(root, BUILDER)) || !existsSync(join(root, CONFIG))) {
    say(
      'the pages are not built, and what builds them is not installed: run npm ci && npm run build; the API is served without them',
    );
    return null;
  }
  say('building the pages');
  const code = await new Promise<number | null>((resolve) => {
    const builder = spawn(process.execPath, [join(root, BUILDER), 'build', '--config', CONFIG, '--logLevel', 'error'], {
      cwd: root,
      stdio: ['ignore', 'ignore', 'inherit'],
    });
    builder.once('error', () => resolve(null));
    builder.once('exit', resolve);
  });
  if (code === 0 && existsSync(join(pages, 'index.html'))) return pages;
  say('the pages could not be built: run npm run build to see why; the API is served without them');
  return null;
}
