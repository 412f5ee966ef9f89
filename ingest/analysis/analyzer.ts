import type { DayBlock } from '../alignment/day-block.ts';
import type { SiteHistory } from '../site/record.ts';
import type { Autonomy } from '../vocabulary/autonomy.ts';
import type { ProvenFigure, ShareChart } from '../vocabulary/figure.ts';
import type { CannotTell, Finding } from '../vocabulary/finding.ts';
import type { EpochMs } from '../vocabulary/time.ts';

/** What an analyzer says at the end: findings, and what it could not judge. */
export interface Answer {
  readonly findings: readonly Finding[];
  readonly cannotTell: readonly CannotTell[];
  /** What was proven and what it is now; absent where an analyzer holds no figure. */
  readonly figures?: readonly ProvenFigure[];
  readonly shareCharts?: readonly ShareChart[];
  readonly autonomy?: Autonomy;
}

/**
 * A verdict is a fold over day blocks. State is plain JSON (survives a round trip through text: no NaN,
 * no Infinity, no undefined, no Map), so it can be kept after each day; late data throws away the
 * states from its day on and folds again. No clock, no random, no I/O. Inputs are never written to.
 *
 * Decisions are causal: what is decided at a reading rests on readings up to it, so that cutting the
 * log at any T gives what would have been said live, and `detectedAt` is the least T that says it.
 */
export interface Analyzer<State> {
  readonly name: string;
  /** Raised whenever the answer to old data may change; kept states of another version are thrown away. */
  readonly version: number;
  begin(site: SiteHistory): State;
  /** Days come in order; days without any reading of the site do not come at all. */
  fold(state: State, block: DayBlock, site: SiteHistory): State;
  /** asOf: now, as formats.md section 4 defines it; only kinds about silence look at it. */
  answer(state: State, site: SiteHistory, asOf: EpochMs): Answer;
}
