/** The demo fleet as it lives, and what somebody may do to it. There where a demo runs; elsewhere nothing lives. */
import { z } from 'zod';
import { siteIdSchema, timeSchema } from './scalars.ts';

/** What can be started at a site, with what follows from it. */
export const DEMO_FAULTS = [
  'grid_loss',
  'loose_terminal',
  'gauge_drift',
  'link_broken',
  'wrong_setting',
  'router_down',
] as const;
export type DemoFault = (typeof DEMO_FAULTS)[number];

/** How a site of the demo is heard. */
export const DEMO_WAYS = ['sunspec', 'profile', 'courier', 'native', 'json', 'sparkplug', 'folder'] as const;

export const startedFaultSchema = z.object({
  id: z.string(),
  site: z.string(),
  fault: z.enum(DEMO_FAULTS),
  subject: z.string().describe('The unit or pack it is in, or site'),
  start: timeSchema,
  end: timeSchema.nullable().describe('null: until somebody ends it'),
});
export type StartedFault = z.infer<typeof startedFaultSchema>;

export const demoAnswerSchema = z.object({
  now: timeSchema.describe("By the demo's clock, which may go faster than the world's and never is ahead of it"),
  isRunning: z.boolean().describe('Whether this board shows a demo fleet'),
  sites: z
    .array(z.object({ site: z.string(), name: z.string(), way: z.enum(DEMO_WAYS) }))
    .readonly()
    .describe('Those that live now'),
  started: z.array(startedFaultSchema).readonly().describe('Newest first'),
});
export type DemoAnswer = z.infer<typeof demoAnswerSchema>;

/** A grid loss longer than that empties any battery. */
const MOST_MINUTES = 240;

export const startFaultSchema = z.object({
  site: siteIdSchema,
  fault: z.enum(DEMO_FAULTS),
  minutes: z.int().min(1).max(MOST_MINUTES).nullable().describe('null: until it is ended; a grid loss must end'),
});
export type StartFault = z.infer<typeof startFaultSchema>;

export const endFaultsSchema = z.object({ site: siteIdSchema });
export type EndFaults = z.infer<typeof endFaultsSchema>;
