/** What can be trusted of a site's data, in one sentence. */

import type { TrustAnswer } from '../contract/trust.ts';
import { lengthText, partText } from './figures.ts';
import { listWords } from './list-words.ts';
import type { Saying } from './saying.ts';

type Trusted = Pick<TrustAnswer, 'sources' | 'conflictCount' | 'refusalCount' | 'setAside'>;

/** Part of the readings that 30 days should hold, of all recorded sources; null where none is expected. */
export function heardPart({ sources }: Pick<TrustAnswer, 'sources'>): number | null {
  const expected = sources.reduce((sum, source) => sum + (source.expected ?? 0), 0);
  const heard = sources.reduce(
    (sum, source) => sum + (source.expected === null ? 0 : Math.min(source.heard, source.expected)),
    0,
  );
  return expected === 0 ? null : heard / expected;
}

/** 'Of the readings that 30 days should hold, 99.2 % are here; u3 never sent any and two lines were refused.' */
export function sayTrust({ sources, conflictCount, refusalCount, setAside }: Trusted, { words }: Saying): string {
  const { trust } = listWords(words);
  const part = heardPart({ sources });
  const heard = part === null ? trust.nothingHeard : trust.heard(partText(part));
  const never = sources.filter(({ isRecorded, readings }) => isRecorded && readings === 0).map(({ id }) => id);
  const counted = (count: number, say: (count: string, isOne: boolean) => string): string[] =>
    count === 0 ? [] : [say(words.count(count), count === 1)];
  const faults = [
    ...(never.length === 0 ? [] : [trust.neverHeard(words.list(never, 'and'))]),
    ...counted(conflictCount, trust.contradict),
    ...counted(refusalCount, trust.refused),
    ...counted(setAside.length, trust.setAside),
  ];
  return faults.length === 0 ? trust.nothingWrong(heard) : trust.wrong(heard, words.list(faults, 'and'));
}

/** '4 h 10 min': the longest of the gaps of a source, which come longest first. */
export function sayLongestGap(gaps: TrustAnswer['sources'][number]['gaps'], now: number): string {
  const longest = gaps[0];
  return longest === undefined ? '' : lengthText((longest.to ?? now) - longest.from);
}
