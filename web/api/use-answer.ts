/**
 * What a page knows of one route: nothing yet, an answer with its age, or a fault. An answer that is here stays here
 * while a newer one is asked for, and when that one fails: it grows old and says so, it does not vanish.
 */
import { useEffect, useState } from 'preact/hooks';
import type { Answer, Query } from '../../server/contract/api-types.ts';
import { apiPath, type PathNames, type RouteName } from '../../server/contract/paths.ts';
import { type Fault, type Got, getJson } from './get-json.ts';
import { news } from './live.ts';

export type Known<Data> =
  | { readonly state: 'waiting' }
  | { readonly state: 'failed'; readonly fault: Fault }
  /** `fault`: why there is no newer answer. */
  | { readonly state: 'here'; readonly data: Data; readonly at: number; readonly fault: Fault | null };

const WAITING: Known<never> = { state: 'waiting' };
/** Answers of the last few routes, so that going back draws at once. Few, because a chart's answer may be large. */
const KEPT = 24;
const kept = new Map<string, { readonly data: unknown; readonly at: number }>();

function keep(path: string, data: unknown, at: number): void {
  kept.delete(path);
  kept.set(path, { data, at });
  const oldest = kept.keys().next().value;
  if (kept.size > KEPT && oldest !== undefined) kept.delete(oldest);
}

function knownBefore<Data>(path: string): Known<Data> {
  const before = kept.get(path);
  return before === undefined ? WAITING : { state: 'here', data: before.data as Data, at: before.at, fault: null };
}

function knownAfter<Data>(path: string, before: Known<Data>, got: Got<Data>): Known<Data> {
  if ('data' in got) {
    const at = Date.now();
    keep(path, got.data, at);
    return { state: 'here', data: got.data, at, fault: null };
  }
  return before.state === 'here' ? { ...before, fault: got.fault } : { state: 'failed', fault: got.fault };
}

/** What is asked: a route, the names in its path, its query. */
export interface Ask<Name extends RouteName> {
  readonly route: Name;
  readonly names: PathNames<Name>;
  readonly query?: Query<Name>;
  /** false for what does not change by itself, such as the traces of a window that is over. */
  readonly follows?: boolean;
}

/** The answer of one route, asked anew whenever the server has news; null: there is nothing to ask yet. */
export function useAnswer<Name extends RouteName>(ask: Ask<Name> | null): Known<Answer<Name>> {
  const path =
    ask === null ? null : apiPath(ask.route, ask.names, ask.query as Readonly<Record<string, string | number>>);
  return useKnown<Answer<Name>>(path, ask?.follows ?? true);
}

function useKnown<Data>(path: string | null, follows: boolean): Known<Data> {
  const [held, hold] = useState<{ readonly path: string | null; readonly known: Known<Data> }>(() => ({
    path,
    known: path === null ? WAITING : knownBefore<Data>(path),
  }));
  const round = follows ? news.value : 0;
  // A new path starts from what is known of it, in the same drawing: an old page's figures never stand under a new head.
  const known = held.path === path ? held.known : path === null ? WAITING : knownBefore<Data>(path);
  useEffect(() => {
    if (path === null) return;
    const ended = new AbortController();
    getJson<Data>(path, ended.signal)
      .then((got) =>
        hold((last) => ({
          path,
          known: knownAfter(path, last.path === path ? last.known : knownBefore<Data>(path), got),
        })),
      )
      .catch((error: unknown) => {
        if (!ended.signal.aborted) throw error;
      });
    return () => ended.abort();
  }, [path, round]);
  return known;
}
