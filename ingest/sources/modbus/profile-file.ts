/** The file of a register profile: named in a configuration or on the command line. */
import { readFileSync } from 'node:fs';
import { NeedsOperator, type Refusal, sayRefusal } from '../../vocabulary/refusal.ts';
import { type Profile, parseProfile, profileJsonSchema } from '../../wire/modbus/profile.ts';

/** A profile, or every mistake in it, each with line and column; a file that cannot be read is one. */
export type ProfileFile =
  | { readonly profile: Profile; readonly mistakes: readonly [] }
  | { readonly profile: null; readonly mistakes: readonly Refusal[] };

export function readProfileFile(file: string): ProfileFile {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (error) {
    const what = error instanceof Error ? error.message : String(error);
    return {
      profile: null,
      mistakes: [{ where: file, what, remedy: 'write reads: sunspec, or the file of a register profile' }],
    };
  }
  const { profile, mistakes } = parseProfile(text, file);
  return profile === null ? { profile, mistakes } : { profile, mistakes: [] };
}

/** @throws NeedsOperator where it cannot be read, or with every mistake in it, each with line and column */
export function readProfile(file: string): Profile {
  const { profile, mistakes } = readProfileFile(file);
  if (profile !== null) return profile;
  const count = mistakes.length;
  throw new NeedsOperator({
    where: mistakes.map(sayRefusal).join('\n'),
    what:
      count === 1
        ? 'one mistake keeps this profile from being used'
        : `${count} mistakes keep this profile from being used`,
    remedy: 'mend them and try again',
  });
}

/** JSON Schema of a register profile, as text for an editor. */
export function profileSchemaText(): string {
  return JSON.stringify(profileJsonSchema(), null, 2);
}
