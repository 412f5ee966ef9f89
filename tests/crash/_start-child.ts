import { type ChildProcess, spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';

const CHILD = fileURLToPath(new URL('./_child.mjs', import.meta.url));

export interface ChildWork {
  readonly work: 'import' | 'analyse';
  readonly data: string;
  readonly sites?: readonly string[];
  readonly paths?: readonly string[];
  readonly pendingMaxBytes?: number;
  readonly killAt?: { readonly transaction: number; readonly when: 'before commit' | 'after commit' };
}

export interface ChildEnd {
  readonly exitCode: number | null;
  /** Whether it was killed before it came to its end. */
  readonly isKilled: boolean;
  readonly err: string;
  /** What it printed; null where it was killed or failed. */
  readonly summary: Readonly<Record<string, number>> | null;
}

/** Starts the compiled program on one piece of work. */
export function startChild(
  work: ChildWork,
  { uid, nodeOptions = [] }: { readonly uid?: number; readonly nodeOptions?: readonly string[] } = {},
): { readonly child: ChildProcess; readonly end: Promise<ChildEnd> } {
  const child = spawn(process.execPath, [...nodeOptions, CHILD, JSON.stringify(work)], {
    stdio: ['ignore', 'pipe', 'pipe'],
    ...(uid === undefined ? {} : { uid }),
  });
  let out = '';
  let err = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => {
    out += text;
  });
  child.stderr.setEncoding('utf8').on('data', (text: string) => {
    err += text;
  });
  const end = new Promise<ChildEnd>((resolve, reject) => {
    child.on('error', reject);
    child.on('close', (exitCode, signal) => {
      const summary = out === '' ? null : (JSON.parse(out) as Record<string, number>);
      resolve({ exitCode, isKilled: signal === 'SIGKILL', err, summary });
    });
  });
  return { child, end };
}

/** Runs a piece of work to its end. */
export const runChild = (work: ChildWork): Promise<ChildEnd> => startChild(work).end;
