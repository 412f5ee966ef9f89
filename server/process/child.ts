/** Processes that this one starts: from compiled or from source, and stopped in time. */
import { type ChildProcess, fork } from 'node:child_process';
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

export interface Child<Message> {
  readonly pid: number | undefined;
  onMessage(listener: (message: Message) => void): void;
  /** Where it has ended nothing happens. */
  send(message: unknown): void;
  /** Resolves with the exit code; null where a signal ended it. */
  readonly ended: Promise<number | null>;
  /** Asks it to stop; after `graceMs` it is ended. */
  stop(graceMs: number): Promise<void>;
}

/**
 * @param module address of the main file, as `new URL('../x.ts', import.meta.url)`
 * @param task   its first message
 */
export function startChild<Message>(module: URL, task: unknown): Child<Message> {
  const path = fileURLToPath(module);
  // Beside compiled files there is no source.
  const compiled = path.replace(/\.ts$/, '.js');
  const isSource = !existsSync(compiled);
  const child: ChildProcess = fork(isSource ? path : compiled, [], {
    // Signals of the terminal reach the parent, which stops its children in order.
    detached: false,
    stdio: ['ignore', 'inherit', 'inherit', 'ipc'],
    execArgv: isSource ? ['--import', 'tsx'] : [],
    serialization: 'json',
  });
  child.send(task as object);
  const ended = new Promise<number | null>((resolve) => {
    child.once('exit', (code) => resolve(code));
    child.once('error', () => resolve(null));
  });
  return {
    pid: child.pid,
    onMessage: (listener) => {
      child.on('message', (message) => listener(message as Message));
    },
    send: (message) => {
      if (child.connected) child.send(message as object);
    },
    ended,
    async stop(graceMs) {
      if (child.exitCode !== null || child.signalCode !== null) return;
      child.kill('SIGTERM');
      const timer = setTimeout(() => child.kill('SIGKILL'), graceMs);
      await ended;
      clearTimeout(timer);
    },
  };
}
