import { sourceName } from '../vocabulary/reading.ts';
import type { ColumnMap } from './column-map.ts';
import type { BadRow, OpenRow } from './foreign-rows.ts';
import type { Fault } from './line-meaning.ts';
import { quoteText } from './quote-value.ts';
import { type ClockState, newClockState, resolveWalls, WallClock } from './wall-clock.ts';

/** The clocks of a file's sources. */
export class SourceClocks {
  readonly #wall: WallClock | null;
  readonly #zone: string;
  readonly #states = new Map<string, ClockState>();

  constructor({ time }: ColumnMap) {
    this.#wall = time.zone === null ? null : new WallClock(time.zone);
    this.#zone = time.zone?.name ?? 'UTC';
  }

  /** @returns epoch ms of each row, NaN for bad rows and for times that do not exist */
  resolve(rows: readonly (OpenRow | BadRow)[]): Float64Array {
    const instants = new Float64Array(rows.length).fill(Number.NaN);
    const bySource = new Map<string, { readonly at: number[]; readonly walls: number[] }>();
    for (const [k, row] of rows.entries()) {
      if ('fault' in row) continue;
      if (this.#wall === null) {
        instants[k] = row.ms;
        continue;
      }
      // One row has one clock, however many sources it speaks of.
      const [source] = row.sources;
      const name = source === undefined ? '' : sourceName(source);
      const own = bySource.get(name) ?? { at: [], walls: [] };
      bySource.set(name, own);
      own.at.push(k);
      own.walls.push(row.ms);
    }
    for (const [name, { at, walls }] of bySource) {
      const state = this.#states.get(name) ?? newClockState();
      this.#states.set(name, state);
      if (this.#wall === null) continue;
      for (const [k, instant] of resolveWalls(walls, this.#wall, state).entries()) instants[at[k]!] = instant;
    }
    return instants;
  }

  /** Why a row has no instant. */
  gapFault({ timeText }: OpenRow): Fault {
    return {
      what: `the time ${quoteText(timeText)} does not exist in ${this.#zone}: the clocks went forward over it`,
      remedy: 'if the clock of this device is never changed, give its fixed zone in the map, such as UTC+1',
    };
  }
}
