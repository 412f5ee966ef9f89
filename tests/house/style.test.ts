import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { KNOWN_COMMANDS } from '../../server/commands.ts';
import { linesWith, sourceFiles } from './_source-files.ts';

const HOUSES = ['ingest', 'server', 'web'].filter((folder) => existsSync(folder));
const source = sourceFiles(HOUSES);
const everything = [...source, ...sourceFiles(['tests']).filter(({ path }) => !path.startsWith('tests/house/'))];

describe('the style of the house', () => {
  test('looks at more than nothing', () => {
    expect(source.length).toBeGreaterThan(150);
  });

  test('a file has at most 400 lines: split it by purpose', () => {
    const long = everything.filter(({ text }) => text.split('\n').length > 401).map(({ path }) => path);
    expect(long).toEqual([]);
  });

  test('nothing is left open: file an issue instead', () => {
    expect(linesWith(everything, /\b(TODO|FIXME|XXX)\b|\b(it|test|describe)\.(only|skip)\(/)).toEqual([]);
  });

  test('no machine path stands in a file', () => {
    expect(linesWith(everything, /(?<![\w.])\/(work|root)\/|['"`]\/home\//)).toEqual([]);
  });

  test('folders are named for what is in them', () => {
    const vague = everything.filter(({ path }) => /(^|\/)(utils|helpers|common|lib|types|core)(\/|\.)/.test(path));
    expect(vague.map(({ path }) => path)).toEqual([]);
  });

  test('SQL stands in a store and nowhere else', () => {
    const outside = source.filter(({ path }) => !/^(ingest|server)\/store\//.test(path));
    expect(
      linesWith(outside, /\b(SELECT .* FROM|INSERT (OR \w+ )?INTO|DELETE FROM|CREATE TABLE|UPDATE \w+ SET)\b/),
    ).toEqual([]);
  });

  test('what the pure folders must not know is not named in them', () => {
    const pure = source.filter(({ path }) =>
      /^ingest\/(wire|math|electrical|alignment|analysis|site|vocabulary)\//.test(path),
    );
    expect(linesWith(pure, /\bDate\.now\(|\bMath\.random\(|\bprocess\.env\b|\bnew Date\(\)/)).toEqual([]);
  });

  test('nothing turns a quantity id into another spelling', () => {
    expect(linesWith(source, /\b(camelCase|snakeCase|toCamel|toSnake)\b/)).toEqual([]);
  });

  test('no barrel files', () => {
    expect(source.filter(({ path }) => /\/index\.tsx?$/.test(path)).map(({ path }) => path)).toEqual([]);
  });

  test('words that a technician should not have to read are not used', () => {
    const said = linesWith(source, /\b(anomal(y|ies|ous)|dashboard|leverage|seamless(ly)?)\b/i);
    expect(said).toEqual([]);
  });
});

/** How a test says where a value comes from: a citation, a derivation, or that it is the trade's habit or memory. */
const SOURCE = /source|derived|common practice|unverified|NIST|Montgomery|Hawkins|Pearson|IEC|IEEE|simple-statistics/i;

describe('tests stand beside what they test', () => {
  test('every function of the mathematics and of the trade has a test of its own', () => {
    const untested = source
      .filter(({ path }) => /^ingest\/(math|electrical)\//.test(path))
      .map(({ path }) => path.replace(/\.ts$/, ''))
      .filter((path) => {
        const name = path.slice(path.lastIndexOf('/') + 1);
        return (
          !existsSync(`tests/${path}.test.ts`) &&
          !everything.some((f) => f.path.startsWith('tests/') && f.text.includes(`/${name}.ts'`))
        );
      });
    expect(untested).toEqual([]);
  });

  test('published values name their source', () => {
    const published = sourceFiles(['tests/published']).filter(({ path }) => path.endsWith('.test.ts'));
    expect(published.length).toBeGreaterThan(10);
    const unsourced = published.filter(({ text }) => !SOURCE.test(text)).map(({ path }) => path);
    expect(unsourced).toEqual([]);
    expect(linesWith(published, /source: ''/)).toEqual([]);
  });
});

describe('the papers of the house are true', () => {
  const scripts = (JSON.parse(readFileSync('package.json', 'utf8')) as { scripts: Record<string, string> }).scripts;
  const papers = ['README.md', 'DEVELOPERS.md'].map((path) => ({ path, text: readFileSync(path, 'utf8') }));

  test('npm scripts that they name exist', () => {
    const named = papers.flatMap(({ text }) => [...text.matchAll(/npm run ([\w:-]+)/g)].map((m) => m[1]!));
    expect(named.length).toBeGreaterThan(0);
    expect(named.filter((name) => scripts[name] === undefined)).toEqual([]);
  });

  test('commands that they name exist', () => {
    const known = new Set(KNOWN_COMMANDS.map(({ name }) => name));
    const named = papers.flatMap(({ text }) => [...text.matchAll(/\bkilter ([a-z][\w-]+)/g)].map((m) => m[1]!));
    expect(named.length).toBeGreaterThan(3);
    expect([...new Set(named)].filter((name) => !known.has(name) && name !== 'help')).toEqual([]);
  });

  test('files and folders that they link exist', () => {
    const linked = papers.flatMap(({ text }) => [...text.matchAll(/\]\((?!https?:)([^)#]+)\)/g)].map((m) => m[1]!));
    expect(linked.filter((path) => !existsSync(path))).toEqual([]);
  });
});
