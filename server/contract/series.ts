/** Readings over time for charts: least, mean and greatest of each bucket, or every reading where few enough. */
import { z } from 'zod';
import { QUANTITY_IDS } from './quantity-ids.ts';
import { siteIdSchema, sourceKindSchema, timeSchema, versionSchema } from './scalars.ts';

/** Limits of one answer, with the reason beside each. */
export const SERIES_LIMITS = {
  /** More traces no chart can tell apart. */
  series: 24,
  /** More points than a 4K screen has columns say nothing. */
  points: 4000,
  defaultPoints: 800,
} as const;

const ONE = /^(unit|pack|bank|meter)\/[a-z0-9-]{1,40}\/[a-z0-9_]{1,60}$/;

export const seriesQuerySchema = z.object({
  of: z
    .string()
    .transform((text) => text.split(','))
    .pipe(
      z
        .array(z.string().regex(ONE, 'write kind/id/quantity, for example unit/u1/output_power_w'))
        .min(1)
        .max(SERIES_LIMITS.series),
    )
    .describe('kind/id/quantity, several with commas'),
  from: z.coerce.number<number>().int(),
  to: z.coerce.number<number>().int().describe('Exclusive'),
  points: z.coerce.number<number>().int().min(10).max(SERIES_LIMITS.points).default(SERIES_LIMITS.defaultPoints),
});
export type SeriesQuery = z.input<typeof seriesQuerySchema>;

const values = z.array(z.number().nullable()).readonly();

/**
 * `t[i]` is the start of a bucket, or the instant of a reading; buckets without a reading are left out. null is a gap:
 * draw none of it. Of a state the value of a bucket is what stood last in it.
 * Where `everyMs` is null every reading is there, `min` and `max` are the same list as `mean` and left out.
 */
export const seriesSchema = z.object({
  of: z.string(),
  kind: sourceKindSchema,
  id: z.string(),
  quantity: z.enum(QUANTITY_IDS),
  decimals: z.int(),
  symbol: z.string().describe('V, A, W …; empty for states and counts'),
  words: z.array(z.string()).readonly().nullable().describe('Of a state: word of each value'),
  t: z.array(timeSchema).readonly(),
  mean: values,
  min: values.optional(),
  max: values.optional(),
});
export type Series = z.infer<typeof seriesSchema>;

export const seriesAnswerSchema = versionSchema.extend({
  site: siteIdSchema,
  from: timeSchema,
  to: timeSchema,
  everyMs: z.int().nullable().describe('Length of a bucket; null: every reading'),
  gapMs: z.int().describe('Readings further apart than this have a gap between them'),
  series: z.array(seriesSchema).readonly(),
});
export type SeriesAnswer = z.infer<typeof seriesAnswerSchema>;

/** As `kilter readings --csv` for one source; `every` as there: 1m, 1h; absent: every reading. */
export const csvQuerySchema = z.object({
  source: z.string().regex(/^(unit|pack|bank|meter)\/[a-z0-9-]{1,40}$/, 'write kind/id, for example unit/u1'),
  quantities: z.string().max(2000).optional().describe('With commas; absent: all that are there'),
  from: z.coerce.number<number>().int().optional(),
  to: z.coerce.number<number>().int().optional(),
  everyMs: z.coerce.number<number>().int().min(1000).optional(),
});
export type CsvQuery = z.input<typeof csvQuerySchema>;
