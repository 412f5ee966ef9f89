/** The first lines of the lists: one sentence that answers the question of the page. Pure. */
import type { EventsAnswer } from '../../server/contract/event.ts';
import type { ListedFinding } from '../../server/contract/finding.ts';
import type { TrustAnswer } from '../../server/contract/trust.ts';
import { figureText, lengthText } from '../../server/views/figures.ts';
import type { Saying } from '../../server/views/saying.ts';

const cannotWait = ({ severity }: ListedFinding): boolean => severity === 'urgent' || severity === 'soon';

/** 'Three findings cannot wait. The first is at Millpond Clinic.' */
export function sayAlerts(findings: readonly ListedFinding[], { words }: Saying): string {
  const asked = findings.filter(cannotWait);
  const first = asked[0];
  if (first === undefined) {
    return findings.length === 0
      ? 'Nothing is open at any site.'
      : 'Nothing is open that could not wait for the next visit.';
  }
  if (asked.length === 1) return `One finding cannot wait: at ${first.siteName}.`;
  return `${words.sentence(words.count(asked.length))} findings cannot wait. The first is at ${first.siteName}.`;
}

/** 'Two urgent, one soon, three to plan.' */
export function sayAlertsTally(findings: readonly ListedFinding[], { words }: Saying): string {
  const counts = (['urgent', 'soon', 'plan', 'info'] as const).flatMap((severity) => {
    const count = findings.filter((finding) => finding.severity === severity).length;
    const word = severity === 'plan' ? 'to plan' : words.severity[severity];
    return count === 0 ? [] : [`${words.count(count)} ${word}`];
  });
  return counts.length === 0 ? '' : `${words.sentence(counts.join(', '))}. Each rests on stored figures.`;
}

export function sayEnded(total: number, { words }: Saying): string {
  if (total === 0) return 'No finding has ended yet.';
  return `${words.sentence(words.count(total))} ${total === 1 ? 'finding has' : 'findings have'} ended.`;
}

/** 'The grid has failed 47 times; the output was lost once.' Only of what is listed, and it says so. */
export function sayEvents({ total, events }: Pick<EventsAnswer, 'total' | 'events'>, { words }: Saying): string {
  const losses = events.filter(({ occasion }) => occasion !== 'test');
  if (total === 0) return 'No site has been without the grid yet.';
  const lost = losses.filter(({ outputLostS }) => outputLostS > 0).length;
  const times = (count: number) => (count === 1 ? 'once' : count === 2 ? 'twice' : `${words.count(count)} times`);
  const of =
    events.length < total
      ? `In the newest ${events.length} of ${total} backup events`
      : `In ${words.count(total)} backup ${total === 1 ? 'event' : 'events'}`;
  if (lost === 0) return `${of} the output was never lost.`;
  return `${of} the output was lost ${times(lost)}.`;
}

/** Part of the readings that 30 days should hold, of all recorded sources; null where none is expected. */
export function heardPart({ sources }: Pick<TrustAnswer, 'sources'>): number | null {
  const expected = sources.reduce((sum, source) => sum + (source.expected ?? 0), 0);
  const heard = sources.reduce(
    (sum, source) => sum + (source.expected === null ? 0 : Math.min(source.heard, source.expected)),
    0,
  );
  return expected === 0 ? null : heard / expected;
}

/** 'Of 30 days 99.2 % was heard; nothing contradicts, nothing was refused.' */
export function sayTrust(answer: TrustAnswer, { words }: Saying): string {
  const part = heardPart(answer);
  const heard =
    part === null
      ? 'Nothing has been heard in 30 days'
      : `Of the readings that 30 days should hold, ${figureText(part * 100, 1)}\u00a0% are here`;
  const faults = [
    ...(answer.conflictCount === 0
      ? []
      : [
          `${words.count(answer.conflictCount)} ${answer.conflictCount === 1 ? 'value contradicts itself' : 'values contradict each other'}`,
        ]),
    ...(answer.refusalCount === 0
      ? []
      : [`${words.count(answer.refusalCount)} ${answer.refusalCount === 1 ? 'line was' : 'lines were'} refused`]),
    ...(answer.setAside.length === 0
      ? []
      : [
          `${words.count(answer.setAside.length)} ${answer.setAside.length === 1 ? 'reading was' : 'readings were'} set aside`,
        ]),
  ];
  return faults.length === 0
    ? `${heard}; nothing contradicts and nothing was refused.`
    : `${heard}; ${words.list(faults, 'and')}.`;
}

/** 'longest 4 h 10 min': of the gaps of a source. */
export function sayLongestGap(gaps: TrustAnswer['sources'][number]['gaps'], now: number): string {
  const longest = gaps[0];
  return longest === undefined ? '' : lengthText((longest.to ?? now) - longest.from);
}
