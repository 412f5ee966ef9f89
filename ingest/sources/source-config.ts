/** How one kind of source reads its entry of the configuration: what all kinds share. */
import type { z } from 'zod';
import { type PathFault, schemaFaults } from '../wire/yaml-mistakes.ts';

/** What an entry is read against. */
export interface ConfigHouse {
  /** Folder of the configuration: paths in it are beside it. */
  readonly folder: string;
  /** The environment, read for the secrets that an entry names. */
  readonly env: Readonly<Record<string, string | undefined>>;
}

/** What came of an entry: `config` is null where there are faults. Paths begin at the entry. */
export interface SourceReading<Config> {
  readonly config: Config | null;
  readonly faults: readonly PathFault[];
}

/** Reads an entry by its schema, then by what no schema can say. */
export function readEntry<Schema extends z.ZodType, Config>(
  value: unknown,
  schema: Schema,
  resolve: (parsed: z.infer<Schema>, fault: (path: PathFault['path'], what: string, remedy: string) => void) => Config,
): SourceReading<Config> {
  const parsed = schema.safeParse(value);
  if (!parsed.success) return { config: null, faults: schemaFaults(value, parsed.error.issues) };
  const faults: PathFault[] = [];
  const config = resolve(parsed.data, (path, what, remedy) => faults.push({ path, fault: { what, remedy } }));
  return { config: faults.length === 0 ? config : null, faults };
}

/** A secret that the environment holds; what is wrong with it is said without it. */
export function secretOf(name: string, env: ConfigHouse['env'], fault: (what: string, remedy: string) => void): string {
  const secret = env[name] ?? '';
  if (secret === '')
    fault(
      `the environment variable ${name} is not set`,
      'set it to a long random text, for example of openssl rand -hex 32',
    );
  return secret;
}
