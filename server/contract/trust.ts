/** What can be trusted of a site's data: where it comes from, what is missing, what contradicts, what was not taken. */
import { z } from 'zod';
import { cannotTellSchema, findingSchema } from './finding.ts';
import { siteIdSchema, sourceKindSchema, timeSchema, versionSchema } from './scalars.ts';

const span = z.object({ from: timeSchema, to: timeSchema.nullable().describe('null: lasts') });

export const trustSourceSchema = z.object({
  kind: sourceKindSchema,
  id: z.string(),
  isRecorded: z.boolean(),
  firstAt: timeSchema.nullable(),
  newestAt: timeSchema.nullable(),
  readings: z.int(),
  days: z.int().describe('Days with a reading'),
  expected: z
    .int()
    .nullable()
    .describe('Readings the 30 days should hold at the record’s interval; null: not recorded'),
  heard: z.int().describe('Readings of the 30 days'),
  gaps: z.array(span).readonly().describe('Of the 30 days, longest first, at most 50'),
  gapCount: z.int(),
  conflicts: z.int().describe('Values of which two lines differ'),
});
export type TrustSource = z.infer<typeof trustSourceSchema>;

export const conflictSchema = z.object({
  kind: sourceKindSchema,
  id: z.string(),
  t: timeSchema,
  quantity: z.string(),
  claims: z
    .array(z.object({ value: z.string().describe('As JSON'), replaces: z.boolean(), revision: z.int() }))
    .readonly(),
  decided: z.string().nullable().describe('The value that holds, as JSON; null: reads as absent'),
});
export type Conflict = z.infer<typeof conflictSchema>;

export const refusalSchema = z.object({ file: z.string(), line: z.int(), what: z.string(), remedy: z.string() });

export const trustAnswerSchema = versionSchema.extend({
  site: siteIdSchema,
  name: z.string(),
  zone: z.string(),
  now: timeSchema,
  from: timeSchema.describe('Start of the 30 days'),
  sources: z.array(trustSourceSchema).readonly(),
  silences: z
    .array(findingSchema)
    .readonly()
    .describe('site_silent, unit_silent, pack_silent of the 30 days, newest first'),
  conflicts: z.array(conflictSchema).readonly().describe('Newest first, at most 100'),
  conflictCount: z.int(),
  refusals: z.array(refusalSchema).readonly().describe('In files named for this site, at most 100'),
  refusalCount: z.int(),
  refusalsElsewhere: z.int().describe('In all other files'),
  setAside: z
    .array(z.object({ kind: sourceKindSchema, id: z.string(), t: timeSchema }))
    .readonly()
    .describe('Readings with no other of the site within 48 h: used by no verdict'),
  cannotTell: z.array(cannotTellSchema).readonly(),
});
export type TrustAnswer = z.infer<typeof trustAnswerSchema>;
