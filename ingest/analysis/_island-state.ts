/** What the watch over a site on its own remembers from one reading to the next. */
import type { HuntBaseline } from './_hunt.ts';
import type { IslandEvent } from './_island-event.ts';
import type { OutputLoss } from './_island-output.ts';
import type { UnitNow } from './_unit-now.ts';

export interface Dated {
  readonly value: number;
  readonly t: number;
}

export interface IslandState {
  /** In order of the record. */
  units: UnitNow[];
  bankSoc: Dated | null;
  packSoc: Record<string, Dated>;
  acPvW: Record<string, Dated>;
  /** Newest reading of any unit. */
  lastT: number | null;
  /** Newest reading of any unit on the grid. */
  lastOnT: number | null;
  antiphaseSteps: number;
  commonSteps: number;
  huntBaseline: HuntBaseline;
  open: IslandEvent | null;
  done: readonly IslandEvent[];
  loss: OutputLoss | null;
  losses: readonly OutputLoss[];
}

export function beginIsland(): IslandState {
  return {
    units: [],
    bankSoc: null,
    packSoc: {},
    acPvW: {},
    lastT: null,
    lastOnT: null,
    antiphaseSteps: 0,
    commonSteps: 0,
    huntBaseline: { readings: 0, turns: 0 },
    open: null,
    done: [],
    loss: null,
    losses: [],
  };
}
