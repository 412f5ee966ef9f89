/** The outside of a command for a process: its standard output and error, its terminal, its clock, its signals. */
import type { Io } from '../ingest/commands/command.ts';
import { epochMs } from '../ingest/vocabulary/time.ts';

/** What is gathered before it is written: one system call for some hundred lines. */
const BUFFER_CHARACTERS = 65_536;
const PLAIN_COLUMNS = 120;
const WIPE_LINE = '\r\u001b[2K';

interface Outlet {
  write(text: string): boolean;
  once(event: 'drain', listener: () => void): unknown;
  readonly isTTY?: boolean;
  readonly columns?: number;
}

interface Signals {
  once(event: 'SIGINT' | 'SIGTERM', listener: () => void): unknown;
}

export interface ProcessIo extends Io {
  /** Writes what is still gathered; resolves when it is out. */
  flush(): Promise<void>;
}

/** @param nowMs the clock */
export function createProcessIo(stdout: Outlet, stderr: Outlet, signals: Signals, nowMs: () => number): ProcessIo {
  let gathered = '';
  let isFull = false;
  let isDrawn = false;
  let isDue = false;
  const write = (): void => {
    if (gathered === '') return;
    isFull = !stdout.write(gathered);
    gathered = '';
  };
  const drained = (): Promise<void> =>
    new Promise((resolve) => {
      // A turn of the event loop at least, so that signals and a closed pipe are noticed in long answers.
      if (isFull) {
        stdout.once('drain', () => {
          isFull = false;
          resolve();
        });
      } else setImmediate(resolve);
    });
  const draw = (line: string): void => {
    if (stderr.isTTY !== true || (line === '' && !isDrawn)) return;
    const width = stderr.columns ?? PLAIN_COLUMNS;
    stderr.write(WIPE_LINE + line.slice(0, width - 1));
    isDrawn = line !== '';
  };
  return {
    out(line) {
      gathered += `${line}\n`;
      if (gathered.length >= BUFFER_CHARACTERS) write();
      else if (!isDue) {
        // A command that waits for what comes next shows what came.
        isDue = true;
        setImmediate(() => {
          isDue = false;
          write();
        });
      }
    },
    err(line) {
      // In order on a terminal that shows both.
      write();
      draw('');
      stderr.write(`${line}\n`);
    },
    draw,
    drained,
    flush() {
      write();
      return drained();
    },
    outIsTerminal: stdout.isTTY === true,
    errIsTerminal: stderr.isTTY === true,
    columns: stdout.columns ?? PLAIN_COLUMNS,
    now: () => epochMs(Math.round(nowMs())),
    onStop(callback) {
      let isCalled = false;
      const stop = (): void => {
        if (!isCalled) callback();
        isCalled = true;
      };
      signals.once('SIGINT', stop);
      signals.once('SIGTERM', stop);
    },
  };
}
