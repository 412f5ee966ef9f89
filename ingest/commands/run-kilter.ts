/** The command line as a whole: finds the command, gives help, says what went wrong in one line. */
import { nearestWord } from '../site/nearest-word.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import type { Command, Io } from './command.ts';

export interface Program {
  readonly commands: readonly Command[];
  readonly version: string;
  /** Whether an unexpected error prints where in the program it came from. */
  readonly isDebug: boolean;
}

/**
 * Runs one command line.
 *
 * @param args what stands after `kilter`
 * @returns the exit code; nothing is thrown
 */
export async function runKilter(program: Program, args: readonly string[], io: Io): Promise<number> {
  try {
    return await dispatch(program, args, io);
  } catch (error) {
    for (const line of sayError(error, program.isDebug)) io.err(line);
    return 1;
  }
}

async function dispatch({ commands, version }: Program, args: readonly string[], io: Io): Promise<number> {
  const [first, ...rest] = args;
  if (first === '--version' || first === '-V') {
    io.out(version);
    return 0;
  }
  const isHelp = first === undefined || first === 'help' || first === '--help' || first === '-h';
  const about = rest.find((word) => !word.startsWith('-'));
  if (isHelp && about === undefined) {
    io.out(helpText(commands));
    return 0;
  }
  const command = commandOf(commands, isHelp ? about! : first!);
  if (isHelp || asksForHelp(rest)) {
    io.out(command.usage.trimEnd());
    return 0;
  }
  return command.run(rest, io);
}

function asksForHelp(args: readonly string[]): boolean {
  const end = args.indexOf('--');
  return (end < 0 ? args : args.slice(0, end)).some((word) => word === '--help' || word === '-h');
}

function commandOf(commands: readonly Command[], name: string): Command {
  const command = commands.find((known) => known.name === name);
  if (command !== undefined) return command;
  const names = commands.map((known) => known.name);
  const near = nearestWord(name, names);
  throw new NeedsOperator({
    where: 'kilter',
    what: `there is no command "${name}"`,
    remedy: near === null ? `the commands are ${names.join(', ')}; see kilter help` : `did you mean kilter ${near}?`,
  });
}

/** What `kilter help` prints. */
export function helpText(commands: readonly Command[]): string {
  const width = Math.max(...commands.map(({ name }) => name.length));
  return [
    'Kilter holds every site of paralleled backup power to what was proven on commissioning day,',
    'and says what changed, since when and why.',
    '',
    'Usage: kilter COMMAND [options]',
    '',
    ...commands.map(({ name, summary }) => `  ${name.padEnd(width)}  ${summary}`),
    '',
    'kilter help COMMAND    what a command takes, with examples',
    'kilter --version       which version this is',
    '',
    'Answers go to standard output, everything else to standard error.',
    'Exit codes: 0 done; 1 somebody must act; 2 done, but some of the input was refused.',
  ].join('\n');
}

/** An error as lines for an operator: one line, and in debug mode where it came from. */
export function sayError(error: unknown, isDebug: boolean): string[] {
  if (error instanceof NeedsOperator) {
    const cause = isDebug && error.cause instanceof Error ? [String(error.cause.stack)] : [];
    return [error.message, ...cause];
  }
  const message = error instanceof Error ? error.message : String(error);
  const line = `kilter: an unexpected error: ${message.replaceAll(/\s*\n\s*/g, ' ')}; set KILTER_DEBUG=1 and run it again to see where`;
  return isDebug && error instanceof Error ? [line, String(error.stack)] : [line];
}
