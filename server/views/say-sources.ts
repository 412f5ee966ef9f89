/** How the sources fare, in a sentence, and what stands beside each. */

import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { ListedSource, SourceState, SourcesAnswer } from '../contract/sources.ts';
import { figureText, lengthText, NO_FIGURE } from './figures.ts';
import type { Saying } from './saying.ts';
import { sourcesWords } from './sources-words.ts';

/** What needs somebody comes first. */
const ORDER: readonly SourceState[] = ['broken', 'trouble', 'stale', 'waiting', 'working'];
/** Nearer to the server's clock than this nobody can tell over a network. */
const RIGHT_WITHIN_MS = 500;

const needsSomebody = ({ state }: Pick<ListedSource, 'state'>): boolean => state === 'broken' || state === 'trouble';

/** The sources as the page lists them. */
export function listedSources({ sources }: Pick<SourcesAnswer, 'sources'>): readonly ListedSource[] {
  return [...sources].sort((a, b) => ORDER.indexOf(a.state) - ORDER.indexOf(b.state));
}

/** Whether nobody runs the sources any more; `null` where somebody does, else when somebody last did. */
export function staleSince({ sources }: Pick<SourcesAnswer, 'sources'>): number | null {
  if (sources.length === 0 || sources.some(({ state }) => state !== 'stale')) return null;
  return Math.max(...sources.map(({ saidAt }) => saidAt));
}

/** 'Two of four sources need somebody; the first is modbus 10.0.0.7:502.' */
export function saySources(answer: Pick<SourcesAnswer, 'sources'>, { words, now }: Saying): string {
  const says = sourcesWords(words);
  const sources = listedSources(answer);
  if (sources.length === 0) return says.none;
  const stale = staleSince(answer);
  if (stale !== null) return says.stale(lengthText(Math.max(0, now - stale)));
  const needing = sources.filter(needsSomebody);
  if (needing.length > 0) {
    const count = words.sentence(words.count(needing.length));
    return says.needs(count, needing.length === 1, words.count(sources.length), needing[0]!.name);
  }
  return says.all(words.count(sources.length), sources.length === 1);
}

/** 'Together they bring 42 readings a minute. One has brought nothing yet.' Empty where nothing is known. */
export function saySourcesMore({ sources }: Pick<SourcesAnswer, 'sources'>, { words }: Saying): string {
  const says = sourcesWords(words);
  const rates = sources.flatMap(({ state, perMinute }) => (state === 'stale' || perMinute === null ? [] : [perMinute]));
  const waiting = sources.filter(({ state }) => state === 'waiting').length;
  return [
    ...(rates.length === 0 ? [] : [says.rate(rateText(rates.reduce((sum, rate) => sum + rate, 0)))]),
    ...(waiting === 0 ? [] : [says.waiting(words.sentence(words.count(waiting)), waiting === 1)]),
  ].join(' ');
}

/** '42', '0.5': slow ones with a decimal. */
export function rateText(perMinute: number | null): string {
  return perMinute === null ? NO_FIGURE : figureText(perMinute, perMinute < 10 && perMinute % 1 !== 0 ? 1 : 0);
}

/** '3 s', '2 h 1 min'; '–' before the first reading. */
export const lagText = (lagMs: number | null): string => (lagMs === null ? NO_FIGURE : lengthText(lagMs));

/** '3.2 s ahead', '1 h behind', 'right', 'not measured' */
export function sayCourierClock(offsetMs: number | null, { words }: Saying): string {
  const says = sourcesWords(words);
  if (offsetMs === null) return says.notMeasured;
  const off = Math.abs(offsetMs);
  if (off < RIGHT_WITHIN_MS) return says.right;
  const length = off < 10 * SECOND_MS ? `${figureText(off / SECOND_MS, 1)}\u00a0s` : lengthText(off);
  return offsetMs > 0 ? says.ahead(length) : says.behind(length);
}
