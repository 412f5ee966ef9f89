/** Events joined with what people said of them. */
import { rounded } from '../../ingest/commands/event-json.ts';
import type { BackupEvent } from '../../ingest/vocabulary/finding.ts';
import { MINUTE_MS } from '../../ingest/vocabulary/time.ts';
import type { ApiEvent } from '../contract/event.ts';
import type { StoredMark } from '../store/people-store.ts';

/** A start that moved by less, because later readings said more, is the same event. */
const SAME_START_MS = 10 * MINUTE_MS;

/** The mark whose instant lies in the event, the newest of several; an event's end that is open takes all later ones. */
function markOf({ start, end }: BackupEvent, marks: readonly StoredMark[]): StoredMark | null {
  const until = end ?? Number.POSITIVE_INFINITY;
  return (
    marks.findLast(({ t }) => t === start) ??
    marks.findLast(({ t }) => t >= start - SAME_START_MS && t <= until) ??
    null
  );
}

/** In the figures that the command line prints, so that a page and a line say the same. */
function asTold(event: BackupEvent): BackupEvent {
  return {
    ...event,
    energyWh: rounded(event.energyWh, 'output_energy_wh'),
    peakW: rounded(event.peakW, 'output_power_w'),
    socStartPct: rounded(event.socStartPct, 'bank_soc_pct'),
    socEndPct: rounded(event.socEndPct, 'bank_soc_pct'),
    frequencyMinHz: rounded(event.frequencyMinHz, 'output_frequency_hz'),
    frequencyMaxHz: rounded(event.frequencyMaxHz, 'output_frequency_hz'),
    voltageMinV: rounded(event.voltageMinV, 'output_voltage_v'),
    voltageMaxV: rounded(event.voltageMaxV, 'output_voltage_v'),
    units: Object.fromEntries(
      Object.entries(event.units).map(([id, { energyWh }]) => [
        id,
        { energyWh: rounded(energyWh, 'output_energy_wh') },
      ]),
    ),
  };
}

/** @param marks of the site, in the order in which they were said */
export function markedEvents(events: readonly BackupEvent[], marks: readonly StoredMark[]): ApiEvent[] {
  return events.map((event) => {
    const mark = markOf(event, marks);
    return {
      ...asTold(event),
      occasion: mark?.occasion ?? event.occasion,
      mark: mark === null ? null : { occasion: mark.occasion, by: mark.by, at: mark.at },
    };
  });
}

/** The place of the event that starts in the second of `start`; -1 where none does. */
export function eventAt(events: readonly { readonly start: number }[], start: number): number {
  const second = Math.floor(start / 1000);
  return events.findIndex((event) => Math.floor(event.start / 1000) === second);
}
