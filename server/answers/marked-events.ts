/** Events joined with what people said of them. */
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

/** @param marks of the site, in the order in which they were said */
export function markedEvents(events: readonly BackupEvent[], marks: readonly StoredMark[]): ApiEvent[] {
  return events.map((event) => {
    const mark = markOf(event, marks);
    return {
      ...event,
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
