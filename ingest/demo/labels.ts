/** What is true of the demo fleet: the answers against which findings and events are scored. */
import type { Cause, FindingKind } from '../vocabulary/finding.ts';

/** A fault that was put in. Times are RFC 3339 with milliseconds. */
export interface FaultLabel {
  readonly kind: FindingKind;
  /** Id of the unit or pack at fault, or `site`. */
  readonly subject: string;
  readonly start: string;
  /** Absent where it lasts to the end of the logs. */
  readonly end?: string;
  readonly cause?: Cause;
  /** What was done, in words and figures. */
  readonly note: string;
}

/** A time on backup that really was. Times are RFC 3339 with milliseconds. */
export interface EventLabel {
  /** The first unit leaves the grid. */
  readonly start: string;
  /** The last unit is back on it. */
  readonly end: string;
  /** true if the output never left the site's band while on its own. */
  readonly held: boolean;
  readonly output_lost_s: number;
  readonly occasion: 'grid_loss' | 'test';
  /** full: the logs hold all of it; cut: the site's router was down for part of it. */
  readonly telemetry: 'full' | 'cut';
}

export interface SiteLabels {
  readonly site: string;
  readonly name: string;
  /** true where no fault was put in. */
  readonly healthy: boolean;
  readonly faults: readonly FaultLabel[];
  readonly events: readonly EventLabel[];
  /** What looks odd here and is not a fault. */
  readonly remarks: readonly string[];
}

export interface FleetLabels {
  readonly seed: number;
  /** First and last instant of the logs, half open. */
  readonly from: string;
  readonly to: string;
  readonly sites: readonly SiteLabels[];
}
