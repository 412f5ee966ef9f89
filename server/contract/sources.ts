/** Where readings come from: each source of the configuration, and how it fares. */
import { z } from 'zod';
import { LIVE_SOURCE_KINDS } from '../../ingest/vocabulary/source-status.ts';
import { timeSchema } from './scalars.ts';

export const sourcePartSchema = z.object({
  name: z.string().describe('A device behind a link, a node behind a broker, a gateway that pushes'),
  isAnswering: z.boolean(),
  lastReadingAt: timeSchema.nullable(),
  trouble: z.string().nullable().describe('In words; null where nothing is wrong'),
});

export const SOURCE_STATES = ['working', 'waiting', 'trouble', 'broken', 'stale'] as const;

export const listedSourceSchema = z.object({
  name: z.string(),
  kind: z.enum(LIVE_SOURCE_KINDS),
  state: z
    .enum(SOURCE_STATES)
    .describe(
      'working: readings come; waiting: connected, none came yet; trouble: some part of it does not work; broken: not connected; stale: whoever runs it no longer says how it fares',
    ),
  saidAt: timeSchema.describe('When whoever runs it last said so'),
  isConnected: z.boolean(),
  since: timeSchema.nullable().describe('Since when it is connected, or is not'),
  lastReadingAt: timeSchema.nullable(),
  lagMs: z.number().nullable().describe('How long after its time the last reading was stored'),
  perMinute: z.number().nullable().describe('Readings of the last minute; null: it has not run for one'),
  readings: z.int().describe('Since it was started'),
  refused: z.int(),
  samples: z
    .array(z.object({ at: timeSchema, where: z.string(), what: z.string(), remedy: z.string() }))
    .readonly()
    .describe('The newest refusals, at most 20'),
  trouble: z.string().nullable(),
  parts: z.array(sourcePartSchema).readonly(),
});
export type ListedSource = z.infer<typeof listedSourceSchema>;
export type SourceState = ListedSource['state'];

export const sourcesAnswerSchema = z.object({
  now: timeSchema,
  heartbeatAt: timeSchema.nullable().describe('When the worker last wrote that it listens; null: never'),
  sources: z.array(listedSourceSchema).readonly(),
  couriers: z
    .array(
      z.object({
        name: z.string(),
        heardAt: timeSchema,
        offsetMs: z.int().nullable().describe('How far its clock is ahead of the server’s; null: not measured'),
      }),
    )
    .readonly(),
});
export type SourcesAnswer = z.infer<typeof sourcesAnswerSchema>;
