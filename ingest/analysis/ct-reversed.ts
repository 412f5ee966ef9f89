/**
 * A current transformer at the supply point that reads the wrong way round. When a load behind the units
 * steps, the power that the units take from the grid steps, and what the transformer reads steps by as much:
 * the same way where it is right, the other way where it is turned. Loads that are not backed up add steps of
 * their own, so only steps that both the output and the grid input show are votes.
 */
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import { walkInstants } from '../alignment/site-ticks.ts';
import { phaseGroups, recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord, UnitRecord } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { beginVotes, type CtVotes, noteLevel, type StepVote, takeVote } from './_ct-votes.ts';
import { placeAt, type UnitColumns, unitColumns } from './_unit-now.ts';
import type { Analyzer } from './analyzer.ts';

/** Two readings alike: within this share, or so many watts. */
const CALM_SHARE = 0.04;
const CALM_W = 40;
/** Two samples further apart than this many intervals are not neighbours. */
const BRACKET_INTERVALS = 2.5;
/** A step that counts, as a share of the rating behind the transformer; and at least so many watts. */
const STEP_SHARE = 0.03;
const STEP_W = 150;
/** Two plateaus further apart are not compared: other loads move in between. */
const PLATEAUS_MS = 30 * MINUTE_MS;
/** A home's loads step about this often in a year, by enough and calmly: our own estimate, for the budget. */
const VOTES_A_YEAR = 50_000;

/** Power of one unit or of the transformer: its newest reading, and whether it is like the one before. Written to only within a fold. */
interface Level {
  w: number;
  t: number;
  isCalm: boolean;
}

/** What one unit last read; null what it never sent since it has been on the grid. */
interface Levels {
  grid: Level | null;
  output: Level | null;
  ct: Level | null;
}

interface Plateau {
  readonly t: number;
  readonly gridW: number;
  readonly outputW: number | null;
  readonly ctW: number;
}

export interface CtReversedState {
  readonly levels: Readonly<Record<string, Levels>>;
  readonly plateaus: Readonly<Record<string, Plateau>>;
  readonly votes: Readonly<Record<string, CtVotes>>;
}

interface Feed {
  readonly unit: UnitRecord;
  readonly source: SourceDay;
  readonly columns: UnitColumns;
  readonly grid: Float64Array | null;
  readonly output: Float64Array | null;
  readonly ct: Float64Array | null;
  readonly levels: Levels;
}

interface Work {
  readonly levels: Record<string, Levels>;
  plateaus: Record<string, Plateau>;
  votes: Record<string, CtVotes>;
  readonly record: SiteRecord;
  readonly patienceMs: number;
  readonly threshold: number;
}

/** A transformer and the units behind it. */
interface Behind {
  readonly owner: string;
  readonly ct: Levels;
  readonly members: readonly Levels[];
  /** A step that counts, W. */
  readonly leastW: number;
}

function alike(a: number, b: number): boolean {
  return Math.abs(a - b) <= Math.max(CALM_W, CALM_SHARE * Math.max(Math.abs(a), Math.abs(b)));
}

/** The next level; the one before where the reading has no value. */
function nextLevel(before: Level | null, column: Float64Array | null, row: number, t: number, patienceMs: number) {
  const w = column === null ? Number.NaN : column[row]!;
  if (Number.isNaN(w)) return before;
  if (before === null) return { w, t, isCalm: false };
  before.isCalm = t - before.t <= patienceMs && alike(w, before.w);
  before.w = w;
  before.t = t;
  return before;
}

/** Units behind a transformer: those of its phase, or all of them where the site has one group. */
function membersOf(owner: UnitRecord, record: SiteRecord): readonly UnitRecord[] {
  const groups = phaseGroups(record);
  const phase = record.ct.find(({ unit }) => unit === owner.id)?.phase ?? owner.phase;
  return groups.size === 1 ? record.units : (groups.get(phase) ?? []);
}

function behind(owner: UnitRecord, work: Work): Behind {
  const members = membersOf(owner, work.record);
  return {
    owner: owner.id,
    ct: work.levels[owner.id]!,
    members: members.map(({ id }) => work.levels[id]!),
    leastW: Math.max(STEP_W, STEP_SHARE * members.reduce((sum, unit) => sum + unit.rated_power_w, 0)),
  };
}

/** Sum over the members at t where every one of them is calm and current; null where one is not. */
function calmSum(members: readonly Levels[], what: 'grid' | 'output', t: number, patienceMs: number): number | null {
  let sum = 0;
  for (const member of members) {
    const level = member[what];
    if (level === null || !level.isCalm || t - level.t > patienceMs) return null;
    sum += level.w;
  }
  return members.length === 0 ? null : sum;
}

/** What the site draws behind the transformer at t, if everything is calm; null where it is not. */
function plateauAt({ ct, members }: Behind, t: number, patienceMs: number): Plateau | null {
  if (ct.ct === null || !ct.ct.isCalm || ct.ct.t !== t) return null;
  const outputW = calmSum(members, 'output', t, patienceMs);
  // A site that sends no grid power is judged by its output: on the grid the relays pass it through.
  const sendsGrid = members.some(({ grid }) => grid !== null);
  const gridW = sendsGrid ? calmSum(members, 'grid', t, patienceMs) : outputW;
  if (gridW === null || (outputW === null && members.some(({ output }) => output !== null))) return null;
  return { t, gridW, outputW, ctW: ct.ct.w };
}

const isOfOneSize = (a: number, b: number): boolean => a / b > 0.6 && a / b < 1.6;

/** Places the onset: at this plateau the transformer and the grid power say the same, with one sign or the other. */
function levelled(votes: CtVotes, { t, gridW, ctW }: Plateau, leastW: number): CtVotes {
  if (Math.abs(gridW) < leastW) return votes;
  if (isOfOneSize(ctW, gridW)) return noteLevel(votes, 'right', t);
  return isOfOneSize(-ctW, gridW) ? noteLevel(votes, 'turned', t) : votes;
}

/** What the step between two plateaus says; null where it is small, not the load's alone, or of another size. */
function voteOf(before: Plateau, after: Plateau, leastW: number): StepVote | null {
  const stepW = after.gridW - before.gridW;
  if (after.t - before.t > PLATEAUS_MS || Math.abs(stepW) < leastW) return null;
  const isLoad =
    before.outputW === null || after.outputW === null || isOfOneSize(after.outputW - before.outputW, stepW);
  const ctStepW = after.ctW - before.ctW;
  const vote = isOfOneSize(ctStepW, stepW) ? 'right' : isOfOneSize(-ctStepW, stepW) ? 'turned' : null;
  return !isLoad || vote === null ? null : { vote, t: after.t, stepW, ctStepW };
}

function judge(work: Work, one: Behind, t: number): void {
  const { owner, leastW } = one;
  const plateau = plateauAt(one, t, work.patienceMs);
  if (plateau === null) return;
  const before = work.plateaus[owner];
  work.plateaus[owner] = plateau;
  const votes = levelled(work.votes[owner] ?? beginVotes(t), plateau, leastW);
  const vote = before === undefined ? null : voteOf(before, plateau, leastW);
  work.votes[owner] = vote === null ? votes : takeVote(votes, vote, work.threshold);
}

function takeRow(work: Work, { unit, columns, grid, output, ct, levels }: Feed, row: number, t: number): void {
  // Off the grid nothing passes the transformer that the units could be compared with.
  if (placeAt(columns, row) !== 'on') {
    levels.grid = levels.output = levels.ct = null;
    return;
  }
  levels.grid = nextLevel(levels.grid, grid, row, t, work.patienceMs);
  levels.output = nextLevel(levels.output, output, row, t, work.patienceMs);
  levels.ct = nextLevel(levels.ct, ct, row, t, work.patienceMs);
  // What is turned from the start was turned at its first word.
  if (levels.ct !== null && work.votes[unit.id] === undefined) work.votes[unit.id] = beginVotes(t);
}

const copyOf = (level: Level | null | undefined): Level | null => (level ? { ...level } : null);

function begin(state: CtReversedState, record: SiteRecord): Work {
  const levels = record.units.map(({ id }): [string, Levels] => {
    const kept = state.levels[id];
    return [id, { grid: copyOf(kept?.grid), output: copyOf(kept?.output), ct: copyOf(kept?.ct) }];
  });
  return {
    levels: Object.fromEntries(levels),
    plateaus: { ...state.plateaus },
    votes: { ...state.votes },
    record,
    patienceMs: BRACKET_INTERVALS * record.sample_interval_s * SECOND_MS,
    threshold: llrThreshold(FALSE_ALARMS_A_SITE_YEAR.ct_reversed, VOTES_A_YEAR, record.units.length),
  };
}

function fold(state: CtReversedState, block: DayBlock, site: SiteHistory): CtReversedState {
  const record = recordAt(site, block.day);
  const work = begin(state, record);
  const feeds = record.units.flatMap((unit): Feed[] => {
    const source = block.units.get(unit.id);
    if (source === undefined) return [];
    const [grid, output] = [columnOf(source, 'grid_power_w'), columnOf(source, 'output_power_w')];
    const ct = columnOf(source, 'ct_power_w');
    const columns = unitColumns(source, unit, record);
    return [{ unit, source, columns, grid, output, ct, levels: work.levels[unit.id]! }];
  });
  if (!feeds.some(({ ct }) => ct !== null)) return state;
  const transformers = feeds.map(({ unit, ct }) => (ct === null ? null : behind(unit, work)));
  walkInstants(
    feeds.map(({ source }) => source),
    feeds.map(() => 0),
    (t, rows, moved) => {
      for (let k = 0; k < feeds.length; k++) if (moved[k] === 1) takeRow(work, feeds[k]!, rows[k]!, t);
      for (let k = 0; k < feeds.length; k++) {
        const one = moved[k] === 1 ? transformers[k] : null;
        if (one) judge(work, one, t);
      }
      return true;
    },
  );
  const { levels, plateaus, votes } = work;
  return { levels, plateaus, votes };
}

function findingsOf(owner: string, votes: CtVotes, site: string): Finding[] {
  return votes.found.map((found) => ({
    site,
    kind: 'ct_reversed',
    subject: owner,
    start: epochMs(found.start),
    detectedAt: epochMs(found.detectedAt),
    end: found.end === null ? null : epochMs(found.end),
    // The tariff and the charging suffer; the next grid loss does not.
    severity: 'plan',
    measure: 'step of the current transformer over step of the grid power',
    value: Math.round(found.ratio * 100) / 100,
    baseline: 1,
    limit: 0,
    causes: [],
    evidence: {
      from_the_start: found.isFromStart,
      steps_turned: found.turned,
      steps_right_before: found.rightBefore,
      statistic: Math.round(found.statistic * 100) / 100,
      threshold: Math.round(found.threshold * 100) / 100,
      false_alarms_a_year: FALSE_ALARMS_A_SITE_YEAR.ct_reversed,
    },
  }));
}

export const ctReversed: Analyzer<CtReversedState> = {
  name: 'ct_reversed',
  version: 1,
  begin: () => ({ levels: {}, plateaus: {}, votes: {} }),
  fold,
  answer(state, site) {
    const findings = Object.keys(state.votes)
      .sort()
      .flatMap((owner) => findingsOf(owner, state.votes[owner]!, site.site));
    return { findings, cannotTell: [] };
  },
};
