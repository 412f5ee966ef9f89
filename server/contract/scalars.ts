/**
 * The small things that every answer is made of.
 * On the wire of this API times are epoch milliseconds, UTC, whole; what is absent is null, never zero.
 * Schemas come first and the types are inferred from them. Whoever runs in a browser imports the types
 * (`import type`), `paths.ts` and `read-fleet.ts`, which hold no schema, so that no schema library is sent there.
 */
import { z } from 'zod';
import { SEVERITIES as SEVERITY_WORDS } from '../../ingest/vocabulary/finding.ts';
import { SOURCE_KINDS } from '../../ingest/vocabulary/quantities.ts';

export const timeSchema = z.int().describe('Epoch milliseconds, UTC');
export const siteIdSchema = z.string().regex(/^[a-z0-9-]{1,40}$/);
export const figureSchema = z.number().nullable().describe('null: not known; never zero for absent');
export const severitySchema = z.enum(SEVERITY_WORDS);
export const sourceKindSchema = z.enum(SOURCE_KINDS);

/** How far the store and the people's database are: an answer with equal numbers is an equal answer. */
export const versionSchema = z.object({
  change: z.int().describe('Change number of the readings store'),
  people: z.int().describe('Change number of what people wrote'),
});
export type Version = z.infer<typeof versionSchema>;
