/** How long a site carries itself, and how often the grid and its own output were away. */
import { z } from 'zod';
import { timeSchema } from './scalars.ts';

const hourly = z.array(z.number().nullable()).readonly();

export const autonomySchema = z.object({
  site: z.string(),
  at: timeSchema.nullable().describe('When the charge was read'),
  socPct: z.number().nullable(),
  reservePct: z.number(),
  isReserveAssumed: z.boolean().describe('The record names none'),
  outputWhPerPoint: z.number().nullable().describe('Wh at the output for each point of charge'),
  isEnergyLearnt: z
    .boolean()
    .describe("From the site's own outages; else from capacity, health and a usual conversion"),
  usableWh: z.number().nullable().describe('From the charge now down to the reserve'),
  loadP50W: hourly.describe('168 hours of the week from Monday 00:00 of the site: half of the time the load is less'),
  loadP90W: hourly.describe('Nine tenths of the time the load is less'),
  chargeP50Pct: hourly.describe('24 hours of the day: usual charge'),
  chargeP10Pct: hourly.describe('What nine tenths of the days have at least'),
  backTests: z
    .array(z.object({ start: timeSchema, hours: z.number(), error: z.number().describe('Estimated ÷ real time − 1') }))
    .readonly(),
  because: z.string().nullable().describe('Why nothing can be told; null where something can'),
});

/** Of one supply over the period; an interruption is sustained from 5 minutes on (IEEE 1366). */
export const suppliedSchema = z.object({
  sustained: z.int(),
  sustainedMin: z.number(),
  momentary: z.int(),
  available: z.number().describe('Part of the period, 0 to 1, after sustained interruptions'),
});

export const coverSchema = z.object({
  autonomy: autonomySchema.nullable(),
  reliability: z
    .object({
      from: timeSchema,
      to: timeSchema,
      grid: suppliedSchema.describe('As supplied'),
      output: suppliedSchema.describe('As felt'),
      tests: z.int().describe('Backup events marked as tests: left out'),
      silentMin: z.number().describe('Whole site silent: not known what happened in it'),
    })
    .nullable()
    .describe('null: nothing was heard yet'),
});
export type Cover = z.infer<typeof coverSchema>;
export type Supplied = z.infer<typeof suppliedSchema>;
