/** Findings as they leave the server. The words of kinds and causes are those of formats.md, section 4. */
import { z } from 'zod';
import { CAUSES, type Cause, FINDING_KINDS } from '../../ingest/vocabulary/finding.ts';
import { figureSchema, severitySchema, siteIdSchema, timeSchema, versionSchema } from './scalars.ts';

const causeWords = [...new Set(Object.values(CAUSES).flat())] as [Cause, ...Cause[]];

export const evidenceValueSchema = z.union([
  z.string(),
  z.number(),
  z.boolean(),
  z.null(),
  z.array(z.union([z.string(), z.number()])).readonly(),
]);

export const weighedCauseSchema = z.object({ cause: z.enum(causeWords), weight: z.number() });

export const findingSchema = z.object({
  id: z.string().describe('Site, kind, subject and detectedAt as one text: see finding-id.ts'),
  site: siteIdSchema,
  kind: z.enum(FINDING_KINDS),
  subject: z.string().nullable().describe('Unit or pack; site for the whole; null: one of candidates'),
  candidates: z.array(z.string()).readonly().optional(),
  start: timeSchema.describe('Best estimate of when it began'),
  detectedAt: timeSchema,
  end: timeSchema.nullable().describe('null while it lasts'),
  severity: severitySchema,
  measure: z.string(),
  value: figureSchema,
  baseline: figureSchema,
  limit: figureSchema,
  causes: z.array(weighedCauseSchema).readonly(),
  evidence: z.record(z.string(), evidenceValueSchema).readonly(),
});
/** A finding with its address. What is without `id` may be said all the same: see `SayableFinding`. */
export type ApiFinding = z.infer<typeof findingSchema>;
/** What a sentence needs; both an `ApiFinding` and a finding of the vocabulary are one. */
export type SayableFinding = Omit<ApiFinding, 'id'>;

export const cannotTellSchema = z.object({
  site: siteIdSchema,
  kind: z.enum(FINDING_KINDS),
  subject: z.string(),
  because: z.string(),
});

/** A finding in a list over sites. */
export const listedFindingSchema = findingSchema.extend({
  siteName: z.string(),
  zone: z.string().describe('IANA time zone of the site'),
  group: z.string().nullable(),
});
export type ListedFinding = z.infer<typeof listedFindingSchema>;

export const findingStates = ['open', 'ended', 'all'] as const;
export const findingsQuerySchema = z.object({
  state: z.enum(findingStates).default('open'),
  site: siteIdSchema.optional(),
  group: z.string().max(100).optional(),
  kind: z.enum(FINDING_KINDS).optional(),
  severity: severitySchema.optional(),
  cursor: z.string().max(200).optional(),
  limit: z.coerce.number<number>().int().min(1).max(500).default(100),
});
export type FindingsQuery = z.input<typeof findingsQuerySchema>;

/** Open first by severity, then newest detection first. `next`: give it as cursor for the page after; null at the end. */
export const findingsAnswerSchema = versionSchema.extend({
  now: timeSchema,
  total: z.int().describe('How many match in all'),
  findings: z.array(listedFindingSchema).readonly(),
  next: z.string().nullable(),
});
export type FindingsAnswer = z.infer<typeof findingsAnswerSchema>;
