/**
 * The fleet as it crosses the wire: columns instead of rows, small numbers instead of times, so that 500 sites
 * with 30 days each stay under 30 kB. Nobody reads it in this form: `readFleet` (read-fleet.ts) makes rows of it.
 */
import { z } from 'zod';
import { CAUSES, FINDING_KINDS } from '../../ingest/vocabulary/finding.ts';
import { evidenceValueSchema } from './finding.ts';
import { severitySchema, timeSchema, versionSchema } from './scalars.ts';

const causeWords = [...new Set(Object.values(CAUSES).flat())] as [string, ...string[]];

/** A finding with the figures that its sentence needs and no more; absent keys are null or empty. */
export const fleetFindingSchema = z.object({
  kind: z.enum(FINDING_KINDS),
  subject: z.string().optional(),
  candidates: z.array(z.string()).readonly().optional(),
  severity: severitySchema,
  start: z.number().describe('Seconds after `from`; negative before it'),
  detected: z.number().describe('Seconds after `start`'),
  measure: z.string().optional().describe('Only where the sentence says it'),
  value: z.number().optional(),
  baseline: z.number().optional(),
  limit: z.number().optional(),
  causes: z
    .array(z.tuple([z.enum(causeWords), z.number()]))
    .readonly()
    .optional(),
  evidence: z.record(z.string(), evidenceValueSchema).readonly().optional(),
});
export type FleetFinding = z.infer<typeof fleetFindingSchema>;

const whole = z.array(z.int()).readonly();

/** Every list has one entry a site, in the same order. */
export const fleetAnswerSchema = versionSchema.extend({
  now: timeSchema,
  from: timeSchema.describe('Start of the 30 days'),
  groups: z.array(z.string()).readonly(),
  zones: z.array(z.string()).readonly(),
  ratings: z.array(z.array(z.number()).readonly()).readonly().describe('Distinct lists of unit ratings, W'),
  reasons: z
    .array(z.tuple([z.string(), z.boolean().describe('Whether anything of the site is proven')]).readonly())
    .readonly()
    .describe('Distinct reasons why no deviation can be told'),
  site: z.array(z.string()).readonly(),
  name: z.array(z.string()).readonly(),
  group: whole.describe('Place in groups; -1: none'),
  zone: whole,
  units: whole.describe('Place in ratings'),
  everyS: z.array(z.number()).readonly().describe('How often the site is expected to send, s'),
  open: z.array(whole).readonly().describe('Open findings: urgent, soon, plan, info'),
  worst: z.array(fleetFindingSchema.nullable()).readonly(),
  deviation: z
    .array(
      z.union([
        z.int().describe('Place in reasons'),
        z
          .tuple([
            z.int().describe('Place in MEASURES'),
            z.int().describe('0 grid, 1 backup, 2 neither'),
            z.string().describe('Unit or pack'),
            z.number().describe('Then'),
            z.number().describe('Now'),
            z.number().describe('Limit'),
          ])
          .readonly(),
      ]),
    )
    .readonly(),
  charge: z.array(z.array(z.number().nullable()).readonly()).readonly().describe('% of each pack, in record order'),
  reserve: z.array(z.number().nullable()).readonly(),
  chargeAgeS: whole.describe('Before `now`, s; -1: never'),
  heardAgeS: whole.describe('Before `now`, s; -1: never'),
  events: z
    .array(whole)
    .readonly()
    .describe(
      'Four numbers an event: start (s after from), length (s, -1: lasts), output lost (s, 0: held, -1: left its band), 0 unknown 1 grid loss 2 test',
    ),
  silences: z.array(whole).readonly().describe('Two numbers a silence: start (s after from), length (s, -1: lasts)'),
});
export type FleetAnswer = z.infer<typeof fleetAnswerSchema>;
