/** Backup events as a table for a terminal. */
import type { BackupEvent } from '../vocabulary/finding.ts';
import { counted, countedOf, durationWords, figure, minuteWords } from './figures.ts';
import { type TextColumn, textTable } from './text-table.ts';

export interface SaidEvent {
  readonly event: BackupEvent;
  /** The site's time zone. */
  readonly zone: string;
}

const ABSENT = '–';

function range(low: number | null, high: number | null, decimals: number): string {
  return low === null || high === null ? ABSENT : `${figure(low, decimals)} to ${figure(high, decimals)}`;
}

function charge({ socStartPct, socEndPct }: BackupEvent): string {
  if (socStartPct === null && socEndPct === null) return ABSENT;
  const side = (value: number | null): string => (value === null ? '?' : figure(value, 0));
  return `${side(socStartPct)} to ${side(socEndPct)}`;
}

/** One row an event, in the order given; figures stand under each other; narrow terminals lose columns from the right. */
export function sayEvents(events: readonly SaidEvent[], width: number): string[] {
  if (events.length === 0) return ['No grid loss at the sites that were looked at.'];
  const cells = (of: (event: BackupEvent, zone: string) => string): string[] =>
    events.map(({ event, zone }) => of(event, zone));
  const columns: TextColumn[] = [
    { title: 'Site', align: 'left', cells: cells(({ site }) => site) },
    { title: 'Began', align: 'left', cells: cells(({ start }, zone) => minuteWords(start, zone)) },
    {
      title: 'Lasted',
      align: 'right',
      cells: cells(({ start, end }) => (end === null ? 'still on' : durationWords(end - start))),
    },
    {
      title: 'Output',
      align: 'left',
      cells: cells(({ held, outputLostS }) =>
        held ? 'held' : outputLostS > 0 ? `lost ${durationWords(outputLostS * 1000)}` : 'left its band',
      ),
    },
    {
      title: 'kWh',
      align: 'right',
      cells: cells(({ energyWh }) => (energyWh === null ? ABSENT : figure(energyWh / 1000, 1))),
      spare: 2,
    },
    {
      title: 'Peak W',
      align: 'right',
      cells: cells(({ peakW }) => (peakW === null ? ABSENT : figure(peakW, 0))),
      spare: 3,
    },
    { title: 'Charge %', align: 'right', cells: cells(charge), spare: 1 },
    { title: 'Hz', align: 'right', cells: cells((e) => range(e.frequencyMinHz, e.frequencyMaxHz, 2)), spare: 4 },
    { title: 'V', align: 'right', cells: cells((e) => range(e.voltageMinV, e.voltageMaxV, 1)), spare: 5 },
    {
      title: 'Occasion',
      align: 'left',
      cells: cells(({ occasion }) => occasion.replace('_', ' ')),
      spare: 6,
    },
  ];
  return textTable(columns, width);
}

/** 'Looked at 12 sites: 5 grid losses, 1 of them not held. …' */
export function sayEventCount(looked: number, asked: number, events: readonly BackupEvent[]): string {
  const lost = events.filter(({ held }) => !held).length;
  const notHeld = events.length === 0 ? '' : `, ${lost} of them not held`;
  return `Looked at ${countedOf(looked, asked)}: ${counted(events.length, 'grid loss', 'grid losses')}${notHeld}. Times are in each site's zone.`;
}
