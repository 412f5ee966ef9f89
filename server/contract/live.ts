/**
 * What the live stream says. Server-sent events: `event: change`, `id` is `change.people`, `data` is a LiveChange.
 * `event: worker` says when the worker last wrote that it listens: at the start, and whenever that is another time.
 * A comment comes every 15 s while nothing changes. After a reconnection with Last-Event-ID one change is sent at
 * once where anything changed meanwhile.
 */
import { z } from 'zod';
import { siteIdSchema, timeSchema, versionSchema } from './scalars.ts';

export const liveChangeSchema = versionSchema.extend({
  at: timeSchema,
  sites: z.array(siteIdSchema).readonly().nullable().describe('Which sites; null: may be any, ask again for all'),
});
export type LiveChange = z.infer<typeof liveChangeSchema>;

export const liveWorkerSchema = z.object({
  heartbeatAt: timeSchema.nullable().describe('null: no worker has ever listened here'),
  now: timeSchema,
});
export type LiveWorker = z.infer<typeof liveWorkerSchema>;
