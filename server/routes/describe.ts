/** How routes are described and their input is read: one form for all, so that the API description is whole. */
import { describeRoute, resolver, validator } from 'hono-openapi';
import type { ZodType } from 'zod';
import { problemSchema } from '../contract/problem.ts';
import { badRequest } from '../http/problem-error.ts';

const json = (schema: ZodType) => ({ 'application/json': { schema: resolver(schema) } });

/** @param answer schema of the JSON answer, or the type of another answer */
export function describe(summary: string, answer: ZodType | 'text/csv' | 'text/event-stream') {
  const content = typeof answer === 'string' ? { [answer]: { schema: { type: 'string' as const } } } : json(answer);
  return describeRoute({
    summary,
    responses: {
      200: { description: 'The answer', content },
      default: { description: 'What is wrong, where, and what to do', content: json(problemSchema) },
    },
  });
}

/** Reads query, path or body by its schema; a mistake is answered as a problem that names the place. */
export function reads<Schema extends ZodType, Target extends 'query' | 'param' | 'json'>(
  target: Target,
  schema: Schema,
) {
  const where = { query: 'the query', param: 'the address', json: 'the body' }[target];
  return validator(target, schema, (result) => {
    if (result.success) return;
    const [issue] = result.error;
    const path = (issue?.path ?? []).map((part) => String(typeof part === 'object' ? part.key : part)).join('.');
    throw badRequest(
      path === '' ? where : `${where}, ${path}`,
      issue?.message ?? 'it can not be read',
      'see /api/openapi.json',
    );
  });
}
