/** What is kept of births, so that another process can read the aliases of messages that a broker has held for us. */
import { z } from 'zod';

const NUMERAL = z.string().regex(/^\d{1,20}$/);
const holder = z.strictObject({
  life: z.enum(['unheard', 'born', 'dead']),
  /** Timestamp of the birth, epoch ms. */
  bornAt: z.number().nullable(),
  /** Name and datatype of each metric. */
  names: z.array(z.tuple([z.string(), z.number()])),
  /** Alias, name and datatype. */
  aliases: z.array(z.tuple([NUMERAL, z.string(), z.number()])),
});
const node = z.strictObject({
  bdSeq: NUMERAL.nullable(),
  node: holder,
  devices: z.array(z.tuple([z.string(), holder])),
});
const nodes = z.record(z.string(), node);

export type KeptHolder = z.infer<typeof holder>;
export type KeptNode = z.infer<typeof node>;
export type KeptNodes = z.infer<typeof nodes>;

/** Null where it is none: it was written by another version, or damaged. */
export function readKeptNodes(value: unknown): KeptNodes | null {
  const read = nodes.safeParse(value);
  return read.success ? read.data : null;
}
