/**
 * stuck_reading: a quantity that normally moves repeats one value while what moves with it goes on. What is usual is learnt
 * for each source and quantity: the longest stand so far, in moves of the others. Method in DEVELOPERS.md, "Stuck readings".
 */
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import { recordAt, unchangedSince } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import type { CannotTell, Finding } from '../vocabulary/finding.ts';
import type { QuantityId } from '../vocabulary/quantities.ts';
import { DAY_MS, epochMs, formatTime, HOUR_MS, SECOND_MS } from '../vocabulary/time.ts';
import { energyGapMs } from './_patience.ts';
import { movesUpTo, NEW_RUN, type StuckRule, type StuckRun, takeStuckDay } from './_stuck-run.ts';
import type { Analyzer, Answer } from './analyzer.ts';

/** Days with readings before anything is said: a week holds what is usual at home, in a shop, in a school. */
const BASELINE_DAYS = 7;
const LEAST_MS = HOUR_MS;
/** A stand is stuck beyond so many times the longest one that was well. */
const TIMES = 4;
const CHANGES_MIN = 50;
/** Full and empty a gauge rests. */
const PARKED_PCT: readonly [number, number] = [2, 98];
const HELD_PCT: readonly [number, number] = [0.5, 99.5];

interface Watched {
  readonly quantity: QuantityId;
  /** Below this absolute value a stand is a rest: nothing flows. */
  readonly restBelow: number;
  /** Fewer moves of the others than this say nothing. */
  readonly movesMin: number;
  /** What of the same source must move, too: a unit at its limit stands still, and is not stuck. */
  readonly partner: QuantityId | null;
}

const of = (quantity: QuantityId, restBelow = -1, movesMin = 60, partner: QuantityId | null = null): Watched => ({
  quantity,
  restBelow,
  movesMin,
  partner,
});

const UNIT_WATCHED: readonly Watched[] = [
  of('grid_voltage_v', 1),
  of('output_voltage_v', 1),
  of('output_power_w', 20, 60, 'output_current_a'),
  of('output_current_a', 0.2, 60, 'output_power_w'),
  of('dc_voltage_v', 1),
  of('dc_current_a', 0.5),
  of('battery_soc_pct', -1, 12),
  of('grid_power_w', 20),
  of('pv_power_w', 10),
  of('heatsink_temperature_c', -1, 40),
];
const PACK_WATCHED: readonly Watched[] = [
  of('pack_voltage_v', 1),
  of('pack_current_a', 0.3),
  of('soc_pct', -1, 12),
  of('cell_voltage_min_v', 0.1),
  of('cell_voltage_max_v', 0.1),
  of('cell_temperature_min_c', -100, 40),
  of('cell_temperature_max_c', -100, 40),
];

interface StuckSource {
  readonly kind: 'unit' | 'pack';
  readonly since: number | null;
  readonly days: number;
  readonly runs: Readonly<Record<string, StuckRun>>;
  readonly open: OpenStuck | null;
}

interface OpenStuck {
  readonly start: number;
  readonly detectedAt: number;
  /** The quantity that was first, its value; all that stood still since. */
  readonly quantity: string;
  readonly value: number;
  readonly all: readonly string[];
  readonly moves: number;
  readonly usualMoves: number;
}

export interface StuckState {
  readonly sources: Readonly<Record<string, StuckSource>>;
  readonly ended: readonly Finding[];
}

function fold(state: StuckState, block: DayBlock, history: SiteHistory): StuckState {
  const t = block.day + DAY_MS - 1;
  const record = recordAt(history, t);
  const sources: Record<string, StuckSource> = {};
  const ended = [...state.ended];
  const kinds = [
    ['unit', record.units.map((u) => u.id), block.units, UNIT_WATCHED],
    ['pack', record.packs.map((p) => p.id), block.packs, PACK_WATCHED],
  ] as const;
  for (const [kind, ids, days, watched] of kinds) {
    for (const id of ids) {
      const since = unchangedSince(history, id, t);
      const known = state.sources[id];
      const isSame = known !== undefined && known.since === since && known.kind === kind;
      if (!isSame && known?.open != null)
        ended.push(
          stuckFinding(id, known.open, history.site, Math.max(record.validFrom ?? block.day, known.open.detectedAt)),
        );
      const before: StuckSource = isSame ? known : { kind, since, days: 0, runs: {}, open: null };
      const day = days.get(id);
      const others = ids.filter((other) => other !== id).flatMap((other) => days.get(other) ?? []);
      sources[id] = day === undefined ? before : takeDay(before, day, others, watched, record, history.site, ended);
    }
  }
  for (const [id, { open }] of Object.entries(state.sources))
    if (sources[id] === undefined && open !== null)
      ended.push(stuckFinding(id, open, history.site, Math.max(record.validFrom ?? block.day, open.detectedAt)));
  return { sources, ended };
}

function takeDay(
  before: StuckSource,
  day: SourceDay,
  others: readonly SourceDay[],
  watched: readonly Watched[],
  record: SiteRecord,
  site: string,
  ended: Finding[],
): StuckSource {
  const runs: Record<string, StuckRun> = { ...before.runs };
  const isLearnt = before.days >= BASELINE_DAYS;
  /** What began to be stuck, and what ceased, in order of time. */
  const changes: { t: number; quantity: string; run: StuckRun | null; end: number | null; moves: number }[] = [];
  for (const { quantity, restBelow, movesMin, partner } of watched) {
    const values = columnOf(day, quantity);
    const run = runs[quantity] ?? NEW_RUN;
    if (values === null) continue;
    const siblings = others.flatMap((other) => {
      const own = columnOf(other, quantity);
      return own === null ? [] : [{ tMs: other.tMs, values: own }];
    });
    const partnerValues = partner === null ? null : columnOf(day, partner);
    // Nobody to hold it against: nothing is said.
    if (siblings.length === 0 || (partner !== null && partnerValues === null)) continue;
    const moves = (): Float64Array => movesOf(day, quantity, values, siblings, partnerValues);
    const rule: StuckRule = {
      movesMin,
      times: TIMES,
      leastMs: Math.max(LEAST_MS, 20 * record.sample_interval_s * SECOND_MS),
      changesMin: CHANGES_MIN,
      isLearnt,
      gapMs: energyGapMs(record),
    };
    const counts = (value: number): boolean => Math.abs(value) > restBelow;
    const taken = takeStuckDay(run, { tMs: day.tMs, values, moves, counts }, rule);
    for (const span of taken.ended) {
      if (run.stuckAt !== span.stuckAt)
        changes.push({
          t: span.stuckAt,
          quantity,
          run: { ...run, ...span, last: span.end },
          end: null,
          moves: span.moves,
        });
      changes.push({ t: span.end, quantity, run: null, end: span.end, moves: span.moves });
    }
    if (taken.run.stuckAt !== null && taken.run.stuckAt !== run.stuckAt)
      changes.push({ t: taken.run.stuckAt, quantity, run: taken.run, end: null, moves: taken.run.moves });
    runs[quantity] = taken.run;
  }
  const open = takeChanges(before.open, changes, day.id, site, ended);
  return { ...before, days: before.days + 1, runs, open };
}

function movesOf(
  day: SourceDay,
  quantity: QuantityId,
  values: Float64Array,
  siblings: readonly { readonly tMs: Float64Array; readonly values: Float64Array }[],
  partner: Float64Array | null,
): Float64Array {
  if (quantity === 'soc_pct' || quantity === 'battery_soc_pct') {
    const amps = quantity === 'soc_pct' ? columnOf(day, 'pack_current_a') : null;
    // Parked, what counts is that the others have left; and a pack that carries nothing keeps its charge.
    return movesUpTo(day.tMs, siblings, (_, now, row) => {
      const own = values[row]!;
      const current = amps === null ? null : amps[row]!;
      if (current !== null && !(Math.abs(current) > 1)) return false;
      // At the very ends a gauge is held; what still charges a full pack, or discharges an empty one, it can't say.
      if (own >= HELD_PCT[1] || own <= HELD_PCT[0]) return false;
      if (own >= PARKED_PCT[1]) return (current === null || current > 0) && now < PARKED_PCT[1] - 8;
      return own <= PARKED_PCT[0] ? (current === null || current < 0) && now > PARKED_PCT[0] + 8 : true;
    });
  }
  const moves = movesUpTo(day.tMs, siblings, () => true);
  if (partner === null) return moves;
  const own = movesUpTo(day.tMs, [{ tMs: day.tMs, values: partner }], () => true);
  // Both must move: the lesser of the two steps counts.
  let sum = 0;
  return moves.map((m, row) => {
    const step = m - (row === 0 ? 0 : moves[row - 1]!);
    const ownStep = own[row]! - (row === 0 ? 0 : own[row - 1]!);
    sum += Math.min(step, ownStep);
    return sum;
  });
}

/** One source is one finding: what stands still beside what stood first is its evidence; it ends with the last of them. */
function takeChanges(
  before: OpenStuck | null,
  changes: readonly { t: number; quantity: string; run: StuckRun | null; end: number | null; moves: number }[],
  id: string,
  site: string,
  ended: Finding[],
): OpenStuck | null {
  let open = before;
  let still = new Set(before?.all ?? []);
  const inOrder = [...changes].sort(
    (a, b) => a.t - b.t || (a.run === null ? 1 : -1) || (a.quantity < b.quantity ? -1 : 1),
  );
  for (const { t, quantity, run, end } of inOrder) {
    if (run !== null) {
      still.add(quantity);
      open =
        open === null
          ? {
              start: run.since,
              detectedAt: t,
              quantity,
              value: run.value!,
              all: [quantity],
              moves: run.moves,
              usualMoves: run.longestMoves,
            }
          : { ...open, all: [...new Set([...open.all, quantity])].sort(), start: Math.min(open.start, run.since) };
      continue;
    }
    still.delete(quantity);
    if (open !== null && still.size === 0 && end !== null) {
      ended.push(stuckFinding(id, open, site, end));
      open = null;
      still = new Set();
    }
  }
  return open;
}

function stuckFinding(id: string, open: OpenStuck, site: string, end: number | null): Finding {
  return {
    site,
    kind: 'stuck_reading',
    subject: id,
    start: epochMs(open.start),
    detectedAt: epochMs(open.detectedAt),
    end: end === null ? null : epochMs(end),
    severity: 'plan',
    measure: open.quantity,
    value: open.value,
    baseline: null,
    limit: null,
    causes: [],
    evidence: {
      quantity: open.quantity,
      quantities: open.all,
      stands_since: formatTime(open.start),
      moves_of_others_when_raised: Math.round(open.moves),
      moves_of_others_usual_at_most: Math.round(open.usualMoves),
    },
  };
}

function answer(state: StuckState, history: SiteHistory): Answer {
  const open = Object.entries(state.sources).flatMap(([id, source]) =>
    source.open === null ? [] : [stuckFinding(id, source.open, history.site, null)],
  );
  const cannotTell: CannotTell[] = Object.entries(state.sources)
    .filter(([, { days }]) => days < BASELINE_DAYS)
    .map(([subject, { days }]) => ({
      site: history.site,
      kind: 'stuck_reading',
      subject,
      because: `what is usual is learnt over ${BASELINE_DAYS} days, ${days} are in`,
    }));
  return { findings: [...state.ended, ...open], cannotTell };
}

export const stuckReading: Analyzer<StuckState> = {
  name: 'stuck_reading',
  version: 3,
  begin: () => ({ sources: {}, ended: [] }),
  fold,
  answer,
};
