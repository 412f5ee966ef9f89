/** One request, one answer or one problem in words. The only caller of fetch. */
import type { Problem } from '../../server/contract/problem.ts';
import { BOARD } from '../words.ts';

/** What could not be had, in the words of the server or, where it was not reached, in ours. */
export interface Fault {
  readonly id: Problem['id'] | 'not_reached';
  readonly what: string;
  readonly remedy: string;
}
export type Got<Data> = { readonly data: Data } | { readonly fault: Fault };

const NOT_REACHED: Fault = { id: 'not_reached', ...BOARD.notReached };

function faultOf(answer: unknown, status: number): Fault {
  const problem = answer as Partial<Problem> | null;
  if (typeof problem?.what === 'string' && problem.id !== undefined) {
    return { id: problem.id, what: problem.what, remedy: problem.remedy ?? '' };
  }
  return { id: 'unexpected', what: BOARD.answeredOddly(status), remedy: BOARD.loadAgain };
}

async function answerOf<Data>(path: string, init: RequestInit): Promise<Got<Data>> {
  let response: Response;
  try {
    response = await fetch(path, init);
  } catch (error) {
    if (init.signal?.aborted) throw error;
    return { fault: NOT_REACHED };
  }
  const body: unknown = await response.json().catch(() => null);
  // The door of the browser: the server has checked the answer against the contract it is typed by.
  return response.ok && body !== null ? { data: body as Data } : { fault: faultOf(body, response.status) };
}

export function getJson<Data>(path: string, signal: AbortSignal): Promise<Got<Data>> {
  return answerOf(path, { signal, headers: { accept: 'application/json' } });
}

export function sendJson<Data>(method: 'PUT' | 'POST' | 'DELETE', path: string, body: unknown): Promise<Got<Data>> {
  const headers = { accept: 'application/json', 'content-type': 'application/json' };
  return answerOf(path, { method, headers, body: JSON.stringify(body) });
}
