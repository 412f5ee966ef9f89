/** What a command is: arguments in, lines out, an exit code back. */
import type { EpochMs } from '../vocabulary/time.ts';

/**
 * The outside of a command. Answers go to `out`, everything else to `err`, so that a pipe carries answers only.
 */
export interface Io {
  /** One line of the answer. */
  out(line: string): void;
  /** One line about the work: progress, notes, mistakes. */
  err(line: string): void;
  /** Draws a line of progress over the one drawn last; an empty one wipes it. Nothing happens unless `errIsTerminal`. */
  draw(line: string): void;
  /** Resolves when what was put out has been taken; long answers wait for it, so that memory stays flat. */
  drained(): Promise<void>;
  readonly outIsTerminal: boolean;
  readonly errIsTerminal: boolean;
  /** Width of the terminal in characters; 120 where there is none. */
  readonly columns: number;
  now(): EpochMs;
  /** Calls back once when somebody asks the process to stop (SIGINT, SIGTERM). */
  onStop(callback: () => void): void;
}

export interface Command {
  /** The word on the command line: 'findings'. */
  readonly name: string;
  /** What it does, one short phrase in lower case, for the list of commands. */
  readonly summary: string;
  /** The whole help text, with at least one example. */
  readonly usage: string;
  /**
   * @param args what stands after the command's name
   * @returns the exit code: 0 done, 1 somebody must act, 2 done but some input was refused
   * @throws NeedsOperator where somebody must act; said once at the top
   */
  run(args: readonly string[], io: Io): Promise<number>;
}
