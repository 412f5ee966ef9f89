/** Options of a command line, checked; every mistake in words. */
import { parseArgs } from 'node:util';
import { nearestWord } from '../site/nearest-word.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';

/** `value` takes the word after it, `flag` stands alone. */
export type OptionForms = Readonly<Record<string, 'value' | 'flag'>>;

type Options<Forms extends OptionForms> = {
  readonly [Name in keyof Forms]: Forms[Name] extends 'flag' ? boolean : string | undefined;
};

export interface ReadOptions<Forms extends OptionForms> {
  readonly options: Options<Forms>;
  /** What is no option, in order. */
  readonly rest: readonly string[];
}

function mistake(command: string, what: string, remedy: string): NeedsOperator {
  return new NeedsOperator({ where: `kilter ${command}`, what, remedy });
}

function unknownOption(command: string, rawName: string, forms: OptionForms): NeedsOperator {
  const near = nearestWord(rawName.replace(/^-+/, ''), Object.keys(forms));
  const all = Object.keys(forms)
    .map((name) => `--${name}`)
    .join(', ');
  const remedy = near === null ? `its options are ${all}; see kilter help ${command}` : `did you mean --${near}?`;
  return mistake(command, `there is no option ${rawName}`, remedy);
}

/**
 * Reads `--name value`, `--name=value` and `--flag`; what stands after `--` is never an option.
 *
 * @throws NeedsOperator for an option that is unknown, given twice, without its value, or a flag with one
 */
export function readOptions<const Forms extends OptionForms>(
  command: string,
  forms: Forms,
  args: readonly string[],
): ReadOptions<Forms> {
  const { tokens } = parseArgs({
    args: [...args],
    options: Object.fromEntries(
      Object.entries(forms).map(([name, form]) => [name, { type: form === 'flag' ? 'boolean' : 'string' } as const]),
    ),
    strict: false,
    allowPositionals: true,
    tokens: true,
  });
  const read = new Map<string, string | boolean>();
  const rest: string[] = [];
  for (const token of tokens) {
    if (token.kind === 'positional') rest.push(token.value);
    if (token.kind !== 'option') continue;
    const { name, rawName, value, inlineValue } = token;
    const form = Object.hasOwn(forms, name) && rawName.startsWith('--') ? forms[name] : undefined;
    if (form === undefined) throw unknownOption(command, rawName, forms);
    if (read.has(name)) throw mistake(command, `${rawName} is given twice`, 'give it once');
    if (form === 'flag') {
      if (value !== undefined) throw mistake(command, `${rawName} has the value "${value}"`, `write ${rawName} alone`);
      read.set(name, true);
    } else {
      // `--site --json` takes the next option for a value: nobody means that.
      const isMissing = value === undefined || value === '' || (inlineValue === false && value.startsWith('--'));
      if (isMissing)
        throw mistake(command, `${rawName} has no value`, `write one after it; see kilter help ${command}`);
      read.set(name, value);
    }
  }
  const options = Object.fromEntries(
    Object.entries(forms).map(([name, form]) => [name, read.get(name) ?? (form === 'flag' ? false : undefined)]),
  );
  return { options: options as Options<Forms>, rest };
}

/** The value of an option that must be there. @throws NeedsOperator where it is not */
export function required(command: string, option: string, value: string | undefined, example: string): string {
  if (value === undefined)
    throw mistake(command, `--${option} is missing`, `give it, for example --${option} ${example}`);
  return value;
}

/** Refuses words that no option takes. @throws NeedsOperator where there are any */
export function refuseRest(command: string, rest: readonly string[]): void {
  if (rest.length > 0) {
    throw mistake(
      command,
      `"${rest[0]}" is not expected here`,
      `take it out, or put an option before it; see kilter help ${command}`,
    );
  }
}

/** One of a closed set of words. @throws NeedsOperator for another word, naming the nearest */
export function oneOf<Word extends string>(
  command: string,
  option: string,
  value: string,
  words: readonly Word[],
): Word {
  const word = words.find((known) => known === value);
  if (word !== undefined) return word;
  const near = nearestWord(value, words);
  const remedy = near === null ? `give one of ${words.join(', ')}` : `did you mean ${near}?`;
  throw mistake(command, `--${option} is "${value}"`, remedy);
}

/** A whole number in a range. @throws NeedsOperator for anything else */
export function wholeNumber(command: string, option: string, text: string, least: number, most: number): number {
  const value = /^\d+$/.test(text) ? Number(text) : Number.NaN;
  if (!(value >= least && value <= most)) {
    throw mistake(command, `--${option} is "${text}"`, `give a whole number from ${least} to ${most}`);
  }
  return value;
}
