/** A register profile: which registers of a device mean what. YAML, checked whole, every mistake with its place. */
import { z } from 'zod';
import type { Refusal } from '../../vocabulary/refusal.ts';
import { type Path, type PathFault, parsePlacedYaml, schemaFaults } from '../yaml-mistakes.ts';
import { checkProfile } from './profile-faults.ts';
import { NUMBER_TYPES, ORDERS } from './raw-value.ts';

const TABLES = ['holding', 'input', 'coil', 'discrete'] as const;
const ADDRESS = 'give a 0-based protocol address, 0 to 65535 (register number 40031 of a manual is holding address 30)';
const TYPE = `give one of ${NUMBER_TYPES.join(', ')}, or string(n) for a text of n registers`;
const BITS = 'give the first and the last bit, 0 least significant: [0, 7]';
const FACTOR = 'give a number other than 0';
const text = (remedy: string) => z.string({ error: remedy }).min(1, { error: remedy });

const tableSchema = z
  .enum(TABLES, { error: `give one of ${TABLES.join(', ')}` })
  .describe('holding and input registers hold 16 bits each; a coil or discrete input is 0 or 1');
const addressSchema = z
  .int({ error: ADDRESS })
  .min(0, { error: ADDRESS })
  .max(65_535, { error: ADDRESS })
  .describe('0-based protocol address');
const typeSchema = z
  .union([z.enum(NUMBER_TYPES), z.string().regex(/^string\(([1-9]|[1-9]\d|1[01]\d|12[0-5])\)$/, { error: TYPE })], {
    error: TYPE,
  })
  .describe('string(n) is a text of n registers, two characters each; left out of a coil or discrete input');
const orderSchema = (what: string) =>
  z.enum(ORDERS, { error: `give ${ORDERS.join(' or ')}` }).describe(`${what} comes first`);
const bit = z.int({ error: BITS }).min(0, { error: BITS }).max(63, { error: BITS });

const PLACE_KEYS = {
  table: tableSchema,
  address: addressSchema,
  type: typeSchema.optional(),
  word_order: orderSchema('which register of a value of several').optional(),
  byte_order: orderSchema('which byte of a register').optional(),
  bits: z
    .tuple([bit, bit], { error: BITS })
    .optional()
    .describe('first and last bit, inclusive; 0 is least significant'),
  factor: z
    .number({ error: FACTOR })
    .refine((factor) => factor !== 0, { error: FACTOR })
    .optional()
    .describe('value = raw × factor'),
  absent: z
    .array(z.number({ error: 'give numbers, as they stand in the register' }), {
      error: 'give a list of raw values that mean "not measured": [65535]',
    })
    .optional()
    .describe('raw values that mean "not measured"'),
  scale_register: z
    .strictObject(
      { table: tableSchema, address: addressSchema, type: typeSchema.optional() },
      { error: 'give { table: holding, address: 31, type: int16 }' },
    )
    .optional()
    .describe('value = raw × 10^(value of this register), read in the same poll'),
};

const registerSchema = z.strictObject(
  {
    quantity: text('give an id of the vocabulary, for example output_power_w'),
    ...PLACE_KEYS,
    states: z
      .record(z.string(), text('give a word of the quantity'), {
        error: 'give a word for each raw value: { 2: grid, 3: backup }',
      })
      .optional()
      .describe('the word for each raw value; a value in no map is absent'),
    poll_group: text('give the group a name').optional().describe('what is read together, or not at all'),
  },
  { error: 'give { quantity: output_power_w, table: holding, address: 30, type: int16 }' },
);
const settingSchema = z.strictObject(
  {
    key: text('give the name of the setting, for example battery_shared'),
    ...PLACE_KEYS,
    states: z
      .record(
        z.string(),
        z.union([z.boolean(), z.number(), z.string()], { error: 'give a word, a number, true or false' }),
        {
          error: 'give what each raw value means: { 0: false, 1: true }',
        },
      )
      .optional()
      .describe('what each raw value means'),
  },
  { error: 'give { key: battery_shared, table: holding, address: 120, type: uint16 }' },
);
const profileSchema = z.strictObject(
  {
    profile: text('give the profile a name'),
    word_order: orderSchema('which register of a value of several').default('high_first'),
    byte_order: orderSchema('which byte of a register').default('high_first'),
    registers: z
      .array(registerSchema, { error: 'write a list of registers, each a line that begins with "- "' })
      .min(1, { error: 'name one register at least' }),
    settings: z
      .array(settingSchema, { error: 'write a list of settings, each a line that begins with "- "' })
      .default([]),
  },
  { error: 'write the keys profile, word_order, registers and settings' },
);

/** As it stands in the file, defaults filled in: plain data. */
export type Profile = Readonly<z.output<typeof profileSchema>>;
export type ProfileRegister = Profile['registers'][number];
export type ProfileSetting = Profile['settings'][number];

/** JSON Schema of a profile, for editors. */
export function profileJsonSchema(): Readonly<Record<string, unknown>> {
  return { ...z.toJSONSchema(profileSchema, { io: 'input' }), title: 'Register profile' };
}

/**
 * Reads a register profile.
 *
 * @param text  YAML
 * @param file  its name, for messages
 * @returns the profile, or null and every mistake in it, each with its line and column
 */
export function parseProfile(
  text: string,
  file: string,
): { readonly profile: Profile | null; readonly mistakes: readonly Refusal[] } {
  const yaml = parsePlacedYaml(text, file);
  if (yaml.mistakes.length > 0) return { profile: null, mistakes: yaml.mistakes };
  const parsed = profileSchema.safeParse(yaml.value);
  const faults: PathFault[] = parsed.success ? [] : schemaFaults(yaml.value, parsed.error.issues);
  checkProfile(yaml.value, (path: Path, what: string, remedy: string) =>
    faults.push({ path, fault: { what, remedy } }),
  );
  return { profile: parsed.success && faults.length === 0 ? parsed.data : null, mistakes: yaml.place(faults) };
}
