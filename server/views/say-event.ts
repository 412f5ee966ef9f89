/** A backup event: its sentence, its margins, its log. */
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { ApiEvent, EventAnswer, SayableEvent } from '../contract/event.ts';
import type { SayableFinding } from '../contract/finding.ts';
import { clockText, energyText, lengthText, powerText, quantityText, withUnit } from './figures.ts';
import { sayFinding } from './say-finding.ts';
import type { Saying } from './saying.ts';
import { sayDay, sayOccurrence, sayTime } from './when.ts';

/** The cause from here on is said in the event's own sentence. */
const PROBABLE = 0.5;

function sayExcursion(finding: SayableFinding, { words, zone }: Saying): string {
  const isFrequency = finding.kind === 'frequency_excursion';
  const text = quantityText(isFrequency ? 'output_frequency_hz' : 'output_voltage_v', finding.value);
  const first = finding.causes[0];
  const isOverload = first?.cause === 'overload' && first.weight >= PROBABLE;
  return words.event.extreme(
    isFrequency ? 'frequency' : 'voltage',
    finding.evidence.direction === 'high' ? 'rose' : 'fell',
    text,
    clockText(finding.start, words.locale, zone),
    isOverload ? words.event.overloaded : null,
  );
}

/** Did it hold? One sentence. @param findings those that touch the event */
export function sayEvent(event: SayableEvent, findings: readonly SayableFinding[], saying: Saying): string {
  const { words } = saying;
  if (event.outputLostS > 0)
    return words.event.lostFor(lengthText(event.outputLostS * SECOND_MS), sayOccurrence(event.start, saying));
  if (event.end === null) return words.event.holdingSince(sayTime(event.start, saying));
  const length = lengthText(event.end - event.start);
  if (event.held) return words.event.heldFor(length);
  const excursions = findings
    .filter(({ kind }) => kind === 'frequency_excursion' || kind === 'voltage_excursion')
    .map((finding) => sayExcursion(finding, saying));
  return words.event.leftBand(length, excursions);
}

/** 'test, said Marek yesterday'; null where nobody said what it was. */
export function sayMark({ mark }: Pick<ApiEvent, 'mark'>, saying: Saying): string | null {
  const { words } = saying;
  return mark === null
    ? null
    : words.event.marked(words.event.occasion[mark.occasion], mark.by, sayDay(mark.at, saying));
}

export interface LogLine {
  readonly t: number;
  readonly text: string;
}

const chargeText = (pct: number | null): string | null => (pct === null ? null : withUnit(pct, 0, '%'));

/** What happened, in order, each with its instant. */
export function eventLog(answer: EventAnswer, saying: Saying): LogLine[] {
  const { words } = saying;
  const { event, findings, unitPeaks } = answer;
  const lines: LogLine[] = [
    {
      t: event.start,
      text: words.event.gridLost(lengthText(event.startUncertaintyS * SECOND_MS), chargeText(event.socStartPct)),
    },
  ];
  for (const { unit, peakW, peakAt, ratedW, aboveRatingS } of unitPeaks) {
    if (peakW === null || peakAt === null || peakW <= ratedW) continue;
    const share = withUnit((100 * peakW) / ratedW, 0, '%');
    lines.push({
      t: peakAt,
      text: words.event.pastRating(unit, powerText(peakW), share, lengthText(aboveRatingS * SECOND_MS)),
    });
  }
  for (const finding of findings) {
    if (finding.start < event.start || (event.end !== null && finding.start > event.end)) continue;
    lines.push({ t: finding.start, text: sayFinding(finding, saying) });
  }
  if (event.end !== null) {
    const units = Object.entries(event.units).flatMap(([id, { energyWh }]) =>
      energyWh === null ? [] : [`${id} ${energyText(energyWh)}`],
    );
    const text = words.event.gridBack(energyText(event.energyWh), units, chargeText(event.socEndPct));
    lines.push({ t: event.end, text });
  }
  return lines.sort((a, b) => a.t - b.t);
}
