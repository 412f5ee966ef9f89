/** Findings as sentences, each with its mark in the margin, each the way to its own page. */

import { useLocation } from 'preact-iso';
import type { ApiFinding } from '../../server/contract/finding.ts';
import { sayFinding } from '../../server/views/say-finding.ts';
import type { Saying } from '../../server/views/saying.ts';
import { clockOf, pathOf } from '../url/view.ts';
import { BOARD } from '../words.ts';
import { type MarkShape, StateMark } from './state-mark.tsx';

/** The mark of a finding: its severity while it lasts, a tick after. */
export function markOf(
  { end, severity }: ApiFinding,
  { words }: Saying,
): { shape: MarkShape; word: string; asked: boolean } {
  if (end !== null) return { shape: 'closed', word: BOARD.ended, asked: false };
  const asked = severity === 'urgent' || severity === 'soon';
  return { shape: severity === 'info' ? 'level' : severity, word: words.severity[severity], asked };
}

export function FindingList({ findings, saying }: { findings: readonly ApiFinding[]; saying: Saying }) {
  const clock = clockOf(useLocation().url);
  if (findings.length === 0) return <p class="notice">{BOARD.nothingFound}</p>;
  return (
    <ul class="findings">
      {findings.map((finding) => (
        <li key={finding.id} class="in">
          <span class="mg">
            <StateMark {...markOf(finding, saying)} />
          </span>
          <a
            class={finding.end === null ? 'say' : 'say second'}
            href={pathOf({ page: 'finding', id: finding.id }, clock)}
          >
            {sayFinding(finding, saying)}
          </a>
        </li>
      ))}
    </ul>
  );
}
