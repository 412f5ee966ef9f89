/** What the count of the packs keeps from day to day: plain JSON. */
import type { PackCount, PackHour } from '../alignment/pack-hours.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { type CapacityWatch, NEW_CAPACITY } from './_capacity-watch.ts';
import type { CountBin, CountMark } from './_count-bins.ts';
import type { CountLine } from './_count-line.ts';
import { type GaugeWatch, NEW_GAUGE } from './_gauge-watch.ts';

export interface CountState {
  readonly ids: readonly string[];
  readonly since: number | null;
  readonly counts: readonly (PackCount | null)[];
  readonly marks: readonly (CountMark | null)[];
  readonly pending: readonly PackHour[];
  /** Of the baseline while it is learnt, then of the days in which a departure is looked for. */
  readonly bins: readonly CountBin[];
  readonly lines: readonly CountLine[] | null;
  readonly learntFrom: number;
  readonly learntTo: number;
  readonly gauge: readonly GaugeWatch[];
  readonly capacity: readonly CapacityWatch[];
  readonly ended: readonly Finding[];
}

export function freshCount(ids: readonly string[], since: number | null, ended: readonly Finding[]): CountState {
  return {
    ids,
    since,
    counts: ids.map(() => null),
    marks: ids.map(() => null),
    pending: [],
    bins: [],
    lines: null,
    learntFrom: 0,
    learntTo: 0,
    gauge: ids.map(() => NEW_GAUGE),
    capacity: ids.map(() => NEW_CAPACITY),
    ended,
  };
}
