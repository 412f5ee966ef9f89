/** Backup events as they leave the server, and the mark that a person puts on one. */
import { z } from 'zod';
import { findingSchema } from './finding.ts';
import { figureSchema, siteIdSchema, timeSchema, versionSchema } from './scalars.ts';
import { siteRecordSchema } from './site-record.ts';

export const OCCASIONS = ['grid_loss', 'test', 'unknown'] as const;
export const occasionSchema = z.enum(OCCASIONS);
export type Occasion = z.infer<typeof occasionSchema>;

/** Who said what a backup event was. There are no accounts yet: `by` is a typed name. */
export const markSchema = z.object({ occasion: occasionSchema, by: z.string(), at: timeSchema });

export const markBodySchema = z.object({ occasion: occasionSchema, by: z.string().trim().min(1).max(80) });
export type MarkBody = z.infer<typeof markBodySchema>;

/** Power W, energy Wh, charge %, voltage V, frequency Hz. */
export const eventSchema = z.object({
  site: siteIdSchema,
  start: timeSchema,
  end: timeSchema.nullable().describe('null while it lasts'),
  startUncertaintyS: z.number(),
  held: z.boolean().describe('The output never left the band of the site while on its own'),
  outputLostS: z.number(),
  occasion: occasionSchema.describe('What a person said, else unknown'),
  mark: markSchema.nullable(),
  energyWh: figureSchema,
  peakW: figureSchema,
  socStartPct: figureSchema,
  socEndPct: figureSchema,
  frequencyMinHz: figureSchema,
  frequencyMaxHz: figureSchema,
  voltageMinV: figureSchema,
  voltageMaxV: figureSchema,
  units: z.record(z.string(), z.object({ energyWh: figureSchema })).readonly(),
});
export type ApiEvent = z.infer<typeof eventSchema>;
/** What a sentence needs; an event of the vocabulary is one. */
export type SayableEvent = Omit<ApiEvent, 'mark'>;

/** An event in a list over sites. */
export const listedEventSchema = eventSchema.extend({ siteName: z.string(), zone: z.string() });
export type ListedEvent = z.infer<typeof listedEventSchema>;

export const eventsQuerySchema = z.object({
  site: siteIdSchema.optional(),
  group: z.string().max(100).optional(),
  from: z.coerce.number<number>().int().optional(),
  to: z.coerce.number<number>().int().optional(),
  cursor: z.string().max(200).optional(),
  limit: z.coerce.number<number>().int().min(1).max(500).default(100),
});
export type EventsQuery = z.input<typeof eventsQuerySchema>;

/** Newest first. */
export const eventsAnswerSchema = versionSchema.extend({
  now: timeSchema,
  total: z.int(),
  events: z.array(listedEventSchema).readonly(),
  next: z.string().nullable(),
});
export type EventsAnswer = z.infer<typeof eventsAnswerSchema>;

/** The greatest output power of a unit while on its own. */
export const unitPeakSchema = z.object({
  unit: z.string(),
  ratedW: z.number(),
  peakW: figureSchema,
  peakAt: timeSchema.nullable(),
  aboveRatingS: z.number().describe('How long it stood above its rating, from readings, in s'),
});
export type UnitPeak = z.infer<typeof unitPeakSchema>;

/** An extreme of the bus with its instant; null figures where nothing was read. */
export const extremeSchema = z.object({
  value: figureSchema,
  at: timeSchema.nullable(),
  outsideS: z.number().describe('How long it stood outside the band, in s'),
});
export type Extreme = z.infer<typeof extremeSchema>;

/** Everything about one event. Traces come from the series route with `window`. */
export const eventAnswerSchema = versionSchema.extend({
  now: timeSchema,
  record: siteRecordSchema.describe('As it stood at the start'),
  event: eventSchema,
  window: z.object({ from: timeSchema, to: timeSchema }).describe('With a while before and after, for the traces'),
  unitPeaks: z.array(unitPeakSchema).readonly(),
  frequencyLow: extremeSchema,
  frequencyHigh: extremeSchema,
  voltageLow: extremeSchema,
  voltageHigh: extremeSchema,
  findings: z.array(findingSchema).readonly().describe('That touch the event, excursions and losses first'),
  before: timeSchema.nullable().describe('Start of the event before, for a link'),
  after: timeSchema.nullable(),
});
export type EventAnswer = z.infer<typeof eventAnswerSchema>;
