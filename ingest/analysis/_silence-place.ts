/** Where the units stood with respect to the grid about a silence of the whole site. */
import type { DayBlock } from '../alignment/day-block.ts';
import { firstRowAt } from '../alignment/site-ticks.ts';
import type { SiteRecord } from '../site/record.ts';
import { MINUTE_MS } from '../vocabulary/time.ts';
import { silenceMs } from './_patience.ts';
import type { Gap } from './_silence-gaps.ts';
import { type GridPlace, placeAt, unitColumns } from './_unit-now.ts';

/** A unit's place at its newest reading that tells it. */
export interface LastPlace {
  readonly place: GridPlace;
  readonly t: number;
}
export type LastPlaces = Readonly<Record<string, LastPlace>>;

/** The set waits up to 300 s before it takes up a grid that is back, and a router that the grid feeds needs less. */
const RESUMED_MS = 10 * MINUTE_MS;

/** The newest places after this day. */
export function placesAfter(before: LastPlaces, block: DayBlock, record: SiteRecord): LastPlaces {
  const places: Record<string, LastPlace> = {};
  for (const unit of record.units) {
    const source = block.units.get(unit.id);
    const kept = before[unit.id];
    if (kept !== undefined) places[unit.id] = kept;
    if (source === undefined) continue;
    const columns = unitColumns(source, unit, record);
    for (let row = source.tMs.length - 1; row >= 0; row--) {
      const place = placeAt(columns, row);
      if (place === null) continue;
      places[unit.id] = { place, t: source.tMs[row]! };
      break;
    }
  }
  return places;
}

/** Whether any unit was off the grid at its last word before `t`, heard within what a silence takes. */
export function wasOffAt(places: LastPlaces, record: SiteRecord, t: number): boolean {
  return Object.values(places).some((last) => last.place === 'off' && t - last.t <= silenceMs(record));
}

/**
 * Whether a silence of the whole site fell into a grid loss: a unit's last word before it, or one of its
 * first after it, came from off the grid.
 */
export function isInGridLoss(gap: Gap, before: LastPlaces, block: DayBlock, record: SiteRecord): boolean {
  for (const unit of record.units) {
    const source = block.units.get(unit.id);
    const kept = before[unit.id];
    const columns = source === undefined ? null : unitColumns(source, unit, record);
    const lastRow = source === undefined ? -1 : firstRowAt(source.tMs, gap.from + 1) - 1;
    const last = columns === null || lastRow < 0 ? (kept?.place ?? null) : placeAt(columns, lastRow);
    if (last === 'off') return true;
    if (source === undefined || columns === null) continue;
    for (let row = firstRowAt(source.tMs, gap.to); row < source.tMs.length; row++) {
      if (source.tMs[row]! > gap.to + RESUMED_MS) break;
      if (placeAt(columns, row) === 'off') return true;
    }
  }
  return false;
}
