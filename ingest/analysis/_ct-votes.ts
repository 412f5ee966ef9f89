/** Steps that say which way round a current transformer reads, and the sequential test over them. */
import { END_THRESHOLD } from './_llr-cusum.ts';

export type Way = 'right' | 'turned';

export interface StepVote {
  readonly vote: Way;
  readonly t: number;
  /** Step of the grid power and of the transformer, W. */
  readonly stepW: number;
  readonly ctStepW: number;
}

export interface CtFound {
  readonly start: number;
  readonly detectedAt: number;
  readonly end: number | null;
  readonly isFromStart: boolean;
  readonly turned: number;
  readonly rightBefore: number;
  /** Step of the transformer over step of the grid power, over all turned steps. */
  readonly ratio: number;
  readonly statistic: number;
  readonly threshold: number;
}

export interface CtVotes {
  readonly firstT: number;
  /** Newest that said right, and the first since then that said turned. */
  readonly rightT: number | null;
  readonly turnedT: number | null;
  readonly sum: number;
  readonly turned: number;
  readonly right: number;
  readonly turnedW: number;
  readonly turnedCtW: number;
  readonly level: number;
  readonly levelT: number | null;
  readonly found: readonly CtFound[];
}

/** Chance that a step votes against the truth: another load stepped by about twice as much, the other way, between two readings. */
const AGAINST = 0.05;
const GAIN = Math.log((1 - AGAINST) / AGAINST);

export function beginVotes(t: number): CtVotes {
  return {
    firstT: t,
    rightT: null,
    turnedT: null,
    sum: 0,
    turned: 0,
    right: 0,
    turnedW: 0,
    turnedCtW: 0,
    level: 0,
    levelT: null,
    found: [],
  };
}

/**
 * A level that the transformer and the grid power share, or share with opposite signs. It tells nothing of
 * itself, another load may hide in it, but places the onset between two steps.
 */
export function noteLevel(votes: CtVotes, way: Way, t: number): CtVotes {
  if (votes.sum > 0 || votes.found.at(-1)?.end === null) return votes;
  return way === 'right' ? { ...votes, rightT: t, turnedT: null } : { ...votes, turnedT: votes.turnedT ?? t };
}

function open(votes: CtVotes, t: number, threshold: number): CtVotes {
  const turnedT = votes.turnedT ?? t;
  const { rightT } = votes;
  const start = rightT === null ? votes.firstT : Math.round((rightT + turnedT) / 2);
  const found: CtFound = {
    start,
    detectedAt: t,
    end: null,
    isFromStart: rightT === null,
    turned: votes.turned,
    rightBefore: votes.right,
    ratio: votes.turnedCtW / votes.turnedW,
    statistic: votes.sum,
    threshold,
  };
  return { ...votes, sum: 0, level: 0, levelT: null, found: [...votes.found, found] };
}

function takeWhileOpen(votes: CtVotes, { vote, t }: StepVote, standing: CtFound): CtVotes {
  const level = Math.max(0, votes.level + (vote === 'right' ? GAIN : -GAIN));
  const levelT = level === 0 ? null : (votes.levelT ?? t);
  if (level < END_THRESHOLD || levelT === null) return { ...votes, level, levelT };
  const ended = { ...standing, end: Math.max(levelT, standing.detectedAt) };
  return {
    ...beginVotes(votes.firstT),
    rightT: t,
    right: votes.right + 1,
    found: [...votes.found.slice(0, -1), ended],
  };
}

/** Takes one step into the test; raises once the sum of log-likelihood ratios passes the threshold. */
export function takeVote(votes: CtVotes, step: StepVote, threshold: number): CtVotes {
  const standing = votes.found.at(-1);
  if (standing !== undefined && standing.end === null) return takeWhileOpen(votes, step, standing);
  const { vote, t, stepW, ctStepW } = step;
  if (vote === 'right') {
    const sum = Math.max(0, votes.sum - GAIN);
    const isOver = sum === 0;
    return {
      ...votes,
      sum,
      right: votes.right + 1,
      ...(isOver ? { rightT: t, turnedT: null, turned: 0, turnedW: 0, turnedCtW: 0 } : {}),
    };
  }
  const next: CtVotes = {
    ...votes,
    sum: votes.sum + GAIN,
    turnedT: votes.turnedT ?? t,
    turned: votes.turned + 1,
    turnedW: votes.turnedW + Math.abs(stepW),
    turnedCtW: votes.turnedCtW + Math.sign(stepW) * ctStepW,
  };
  return next.sum >= threshold ? open(next, t, threshold) : next;
}
