/** All analyzers as one fold: the only place that knows them all. */
import type { DayBlock } from '../alignment/day-block.ts';
import { withAlarms } from '../analysis/alarms.ts';
import type { Analyzer } from '../analysis/analyzer.ts';
import { ANALYZERS } from '../analysis/analyzers.ts';
import { backupEvents } from '../analysis/backup-events.ts';
import { oneCondition } from '../analysis/one-condition.ts';
import type { SiteHistory } from '../site/record.ts';
import type { SiteAnswer } from '../store/derived-store.ts';
import type { Finding } from '../vocabulary/finding.ts';
import type { EpochMs } from '../vocabulary/time.ts';

/** States by analyzer name, plain JSON. */
export type States = Readonly<Record<string, unknown>>;

const ALL = ANALYZERS as readonly Analyzer<unknown>[];

/** Names and versions: kept states of another program are thrown away. */
export const PROGRAM = ALL.map(({ name, version }) => `${name}@${version}`).join(' ');

export function beginStates(history: SiteHistory): States {
  return Object.fromEntries(ALL.map((analyzer) => [analyzer.name, analyzer.begin(history)]));
}

export function foldDay(states: States, block: DayBlock, history: SiteHistory): States {
  return Object.fromEntries(
    ALL.map((analyzer) => [analyzer.name, analyzer.fold(states[analyzer.name], block, history)]),
  );
}

/** Findings of all analyzers joined into one a condition, in order of start; events; what could not be told. */
export function answerOf(states: States, history: SiteHistory, asOf: EpochMs): SiteAnswer {
  const answers = ALL.map((analyzer) => analyzer.answer(states[analyzer.name], history, asOf));
  const joined = oneCondition(answers.flatMap((a) => a.findings));
  // Last, so that every kind carries the equipment's own alarms, joined findings too.
  const findings = withAlarms(joined, states.alarms as Parameters<typeof withAlarms>[1]);
  return {
    findings: [...findings].sort(byStart),
    events: backupEvents(states.backup_events as Parameters<typeof backupEvents>[0], history),
    cannotTell: answers.flatMap((a) => a.cannotTell),
    figures: answers.flatMap((a) => a.figures ?? []),
    shareCharts: answers.flatMap((a) => a.shareCharts ?? []),
    autonomy: answers.flatMap((a) => a.autonomy ?? []),
  };
}

function byStart(a: Finding, b: Finding): number {
  return (
    a.start - b.start ||
    (a.kind < b.kind ? -1 : a.kind > b.kind ? 1 : 0) ||
    String(a.subject).localeCompare(String(b.subject), 'en')
  );
}
