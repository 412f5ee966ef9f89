/** The first lines of the lists: one sentence that answers the question of the page. */

import type { EventsAnswer } from '../contract/event.ts';
import type { ListedFinding } from '../contract/finding.ts';
import { listWords } from './list-words.ts';
import type { Saying } from './saying.ts';
import { isRequest } from './severity.ts';

type Listed = Pick<ListedFinding, 'severity' | 'siteName'>;

const cannotWait = ({ severity }: Listed): boolean => severity !== 'info' && isRequest(severity);

/** 'Three findings cannot wait. The first is at Millpond Clinic.' */
export function sayAlerts(findings: readonly Listed[], { words }: Saying): string {
  const { lists } = listWords(words);
  const asked = findings.filter(cannotWait);
  const first = asked[0];
  if (first === undefined) return findings.length === 0 ? lists.nothingOpen : lists.nothingUrgent;
  if (asked.length === 1) return lists.oneCannotWait(first.siteName);
  return lists.cannotWait(words.sentence(words.count(asked.length)), first.siteName);
}

/** 'Two urgent, one soon, three to plan.' */
export function sayAlertsTally(findings: readonly Listed[], { words }: Saying): string {
  const { lists } = listWords(words);
  const counts = (['urgent', 'soon', 'plan', 'info'] as const).flatMap((severity) => {
    const count = findings.filter((finding) => finding.severity === severity).length;
    const word = severity === 'plan' ? lists.toPlan : words.severity[severity];
    return count === 0 ? [] : [`${words.count(count)} ${word}`];
  });
  return counts.length === 0 ? '' : words.sentence(lists.tally(counts));
}

export function sayEnded(total: number, { words }: Saying): string {
  const { lists } = listWords(words);
  return total === 0 ? lists.noneEnded : lists.ended(words.sentence(words.count(total)), total === 1);
}

/** 'In 47 backup events the output was lost once.' Only of what is listed, and it says so; tests stay out. */
export function sayEvents({ total, events }: Pick<EventsAnswer, 'total' | 'events'>, { words }: Saying): string {
  const { lists } = listWords(words);
  if (total === 0) return lists.noEvents;
  const lost = events.filter(({ occasion, outputLostS }) => occasion !== 'test' && outputLostS > 0).length;
  const of =
    events.length < total ? lists.someEvents(events.length, total) : lists.allEvents(words.count(total), total === 1);
  return lost === 0 ? lists.neverLost(of) : lists.lost(of, words.times(lost));
}
