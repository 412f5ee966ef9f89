import type { SayableFinding } from '../../server/contract/finding.ts';
import { figureText } from '../../server/views/figures.ts';
import type { Saying } from '../../server/views/saying.ts';
import type { CauseLine } from './causes.tsx';

/** The causes of a finding with their weights, most likely first; those under one in a hundred are left out. Pure. */
export function causeLines({ causes }: SayableFinding, { words }: Saying): readonly CauseLine[] {
  return causes
    .filter(({ weight }) => weight >= 0.01)
    .map(({ cause, weight }) => ({ words: words.cause[cause], weight, weightText: figureText(weight, 2) }));
}
