import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { describe, expect, test } from 'vitest';

const DEPCRUISE = resolve('node_modules', 'dependency-cruiser', 'bin', 'dependency-cruise.mjs');

interface Cruise {
  readonly summary: {
    readonly totalCruised: number;
    readonly violations: readonly { readonly rule: { name: string } }[];
  };
}

function cruise(cwd: string): Cruise {
  const run = spawnSync(
    process.execPath,
    [DEPCRUISE, '--config', '.dependency-cruiser.cjs', '--output-type', 'json', 'ingest', 'server'],
    {
      cwd,
      encoding: 'utf8',
      maxBuffer: 256 * 1024 * 1024,
    },
  );
  return JSON.parse(run.stdout) as Cruise;
}

/** A copy of the tree with bad imports in it, so that the tree itself is never touched. */
function plantedTree(files: Readonly<Record<string, string>>): string {
  const copy = mkdtempSync(join(tmpdir(), 'kilter-arrows-'));
  for (const part of ['ingest', 'server', 'tsconfig.json', '.dependency-cruiser.cjs', 'package.json']) {
    cpSync(part, join(copy, part), { recursive: true });
  }
  symlinkSync(resolve('node_modules'), join(copy, 'node_modules'));
  for (const [path, source] of Object.entries(files)) writeFileSync(join(copy, path), source);
  return copy;
}

describe('the arrow table', () => {
  test('holds in the tree, and is seen to check it', () => {
    const { summary } = cruise('.');
    expect(summary.violations.map((v) => v.rule.name)).toEqual([]);
    expect(summary.totalCruised).toBeGreaterThan(50);
  });

  test('catches each kind of planted bad import, types included', () => {
    const copy = plantedTree({
      'ingest/store/planted.ts':
        "import type { Analyzer } from '../analysis/analyzer.ts';\nexport type Planted = Analyzer<null>;\n",
      'ingest/analysis/planted.ts': "import { readFileSync } from 'node:fs';\nexport const planted = readFileSync;\n",
      'ingest/wire/planted.ts': "import Database from 'better-sqlite3';\nexport const planted = Database;\n",
      'ingest/vocabulary/planted.ts':
        "import type { SiteRecord } from '../site/record.ts';\nexport type Planted = SiteRecord;\n",
    });
    const names = cruise(copy).summary.violations.map((v) => v.rule.name);
    rmSync(copy, { recursive: true });
    expect(names.some((n) => n.startsWith('ingest/store may import only'))).toBe(true);
    expect(names.some((n) => n.startsWith('ingest/vocabulary may import only'))).toBe(true);
    expect(names).toContain('pure folders use no Node module and no driver');
    expect(names).toContain('only the store knows the database');
  });
});
