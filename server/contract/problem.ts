/** The one shape of every error answer. */
import { z } from 'zod';

/** Stable words that a program may compare. */
export const PROBLEM_IDS = [
  'no_such_route',
  'no_such_site',
  'no_such_event',
  'no_such_finding',
  'bad_request',
  'not_allowed',
  'not_permitted',
  'wrong_origin',
  'too_large',
  'wrong_type',
  'too_often',
  'not_ready',
  'unexpected',
] as const;
export type ProblemId = (typeof PROBLEM_IDS)[number];

export const problemSchema = z.object({
  id: z.enum(PROBLEM_IDS),
  what: z.string().describe('What is wrong, with the value'),
  where: z.string().describe('Which part of the request, or which part of Kilter'),
  remedy: z.string().describe('What to do'),
});
export type Problem = z.infer<typeof problemSchema>;
