/**
 * What a push is answered. The body is NDJSON as in formats.md, section 3, plain or packed (`Content-Encoding: gzip`
 * or `zstd`). Keys are those of `kilter import --json`.
 */
import { z } from 'zod';
import { timeSchema } from './scalars.ts';

export const pushAnswerSchema = z.object({
  stored: z.int().describe('Lines that brought something new; fills and contradictions count'),
  already_there: z.int(),
  refused: z
    .array(z.object({ line: z.int().describe('Line of the body, from 1'), what: z.string(), remedy: z.string() }))
    .readonly()
    .describe('Lines that were not taken, the first 100; the others were'),
  refused_count: z.int().describe('All of them'),
  now: timeSchema.describe('Clock of the server when the body was stored'),
});
export type PushAnswer = z.infer<typeof pushAnswerSchema>;

/** Headers with which a courier says who it is, and how far its clock is ahead of the server's (ms). */
export const COURIER_HEADERS = { name: 'Kilter-Courier', offset: 'Kilter-Clock-Offset-Ms' } as const;
