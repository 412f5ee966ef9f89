/** Then, now, limit; and the data of the share charts. */
import { z } from 'zod';
import { MEASURES } from '../../ingest/vocabulary/figure.ts';
import { figureSchema, siteIdSchema, timeSchema, versionSchema } from './scalars.ts';

export const modeSchema = z.enum(['grid', 'backup']);

/** In the measure's own unit. share: part of 1; charge_apart: points of charge. */
export const provenFigureSchema = z.object({
  site: siteIdSchema,
  measure: z.enum(MEASURES),
  subject: z.string(),
  mode: modeSchema.nullable(),
  then: figureSchema.describe('null: not proven yet'),
  now: figureSchema.describe('null: cannot be told now; because says why'),
  limit: z.number(),
  nowAt: timeSchema.nullable(),
  because: z.string().nullable(),
});
export type ApiFigure = z.infer<typeof provenFigureSchema>;

const numbers = z.array(z.number()).readonly();

export const shareChartSchema = z.object({
  site: siteIdSchema,
  phase: z.string(),
  mode: modeSchema,
  ids: z.array(z.string()).readonly(),
  loadedFromW: z.number(),
  baseline: z
    .object({
      from: timeSchema,
      to: timeSchema,
      bins: z.int(),
      lines: z.array(z.object({ offsetW: z.number(), slope: z.number() })).readonly(),
      sample: z.array(z.object({ totalW: z.number(), unitW: numbers })).readonly(),
    })
    .nullable()
    .describe('null while it is being learnt'),
  days: z
    .array(
      z.object({
        day: timeSchema,
        shares: z.array(z.tuple([z.number(), z.number(), z.number()]).readonly()).readonly(),
      }),
    )
    .readonly()
    .describe('By day, oldest first: least, median, greatest share of each unit'),
  recent: z.array(z.object({ t: timeSchema, totalW: z.number(), unitW: numbers, statistic: numbers })).readonly(),
});
export type ApiShareChart = z.infer<typeof shareChartSchema>;

export const shareAnswerSchema = versionSchema.extend({ charts: z.array(shareChartSchema).readonly() });
export type ShareAnswer = z.infer<typeof shareAnswerSchema>;
