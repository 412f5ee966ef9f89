/**
 * What the equipment itself raised, set beside what Kilter sees: alarms are no verdict, so this raises no
 * finding; each finding carries those of its subject that stood or came up in its time.
 */
import type { DayBlock } from '../alignment/day-block.ts';
import type { EvidenceValue, Finding } from '../vocabulary/finding.ts';
import { formatTime, MINUTE_MS } from '../vocabulary/time.ts';
import type { Analyzer } from './analyzer.ts';

export interface StoodAlarm {
  readonly id: string;
  readonly alarm: string;
  readonly raisedT: number;
  /** null while it stands. */
  readonly clearedT: number | null;
}

export interface AlarmsState {
  readonly standing: readonly StoodAlarm[];
  readonly done: readonly StoodAlarm[];
}

/** An alarm this long before a finding's start may be the first word of the same condition: clocks and sampling. */
const BEFORE_MS = 10 * MINUTE_MS;
/** More than this is a list, not evidence. */
const TOLD_MOST = 10;

function fold(state: AlarmsState, block: DayBlock): AlarmsState {
  if (block.alarms.length === 0) return state;
  let standing = [...state.standing];
  const done = [...state.done];
  for (const { id, t, alarm, state: change } of block.alarms) {
    const before = standing.find((one) => one.id === id && one.alarm === alarm);
    if (change === 'raised') {
      if (before === undefined) standing.push({ id, alarm, raisedT: t, clearedT: null });
    } else if (before !== undefined) {
      standing = standing.filter((one) => one !== before);
      done.push({ ...before, clearedT: t });
    }
  }
  return { standing, done };
}

export const alarms: Analyzer<AlarmsState> = {
  name: 'alarms',
  version: 1,
  begin: () => ({ standing: [], done: [] }),
  fold,
  answer: () => ({ findings: [], cannotTell: [] }),
};

/** Alarms in order of time that stood at any time from a while before `from` up to `to`. */
export function alarmsWithin({ standing, done }: AlarmsState, from: number, to: number): StoodAlarm[] {
  return [...done, ...standing]
    .filter(({ raisedT, clearedT }) => raisedT <= to && (clearedT === null || clearedT >= from - BEFORE_MS))
    .sort((a, b) => a.raisedT - b.raisedT || (a.id < b.id ? -1 : a.id > b.id ? 1 : a.alarm < b.alarm ? -1 : 1));
}

/** Whom an alarm may be about for a finding: its subject, any candidate, everybody where it is the site's. */
function isAbout({ subject, candidates }: Finding, id: string): boolean {
  return subject === 'site' || subject === id || (candidates ?? []).includes(id);
}

const sayAlarm = ({ id, alarm, raisedT }: StoodAlarm): string => `${id}: ${alarm}, ${formatTime(raisedT)}`;

/** Each finding with the alarms of its subject in its time, where there are any. */
export function withAlarms(findings: readonly Finding[], state: AlarmsState): Finding[] {
  if (state.standing.length === 0 && state.done.length === 0) return [...findings];
  return findings.map((finding) => {
    const own = alarmsWithin(state, finding.start, finding.end ?? Number.POSITIVE_INFINITY).filter(({ id }) =>
      isAbout(finding, id),
    );
    if (own.length === 0) return finding;
    const told: EvidenceValue = own.slice(0, TOLD_MOST).map(sayAlarm);
    return { ...finding, evidence: { ...finding.evidence, alarms: told, alarms_count: own.length } };
  });
}
