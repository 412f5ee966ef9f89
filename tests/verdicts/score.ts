/** Holds what was found in a site against what was put in. */
import type { BackupEvent, Finding, FindingKind } from '../../ingest/vocabulary/finding.ts';
import type { PlannedSite } from './fleet.ts';
import type { Fault, FaultWhat, SimSite } from './plan.ts';
import type { TrueEvent } from './simulate.ts';

const HOUR_MS = 3_600_000;

export interface FaultScore {
  readonly site: string;
  readonly scenario: string;
  readonly kind: FindingKind;
  readonly fault: Fault;
  readonly found: Finding | null;
  /** null where it is not found. */
  readonly delayH: number | null;
  /** Of a detector that knows noise and shape; null for kinds that are not held against it. */
  readonly oracleH: number | null;
  readonly onsetErrorH: number | null;
  /** null where the kind has no causes or it is not found under its own kind. */
  readonly isCauseRight: boolean | null;
}

export interface SiteScore {
  readonly site: string;
  readonly scenario: string;
  readonly days: number;
  readonly faults: readonly FaultScore[];
  readonly falseAlarms: readonly Finding[];
  readonly events: {
    readonly real: number;
    readonly found: number;
    readonly invented: number;
    readonly heldWrong: number;
  };
}

function isOf(finding: Finding, fault: Fault): boolean {
  if (finding.kind !== fault.kind && !fault.also.includes(finding.kind)) return false;
  if (finding.detectedAt < fault.start - HOUR_MS) return false;
  if (fault.place < 0 || finding.kind !== fault.kind) return true;
  return (
    finding.subject === fault.subject ||
    (finding.subject === null && (finding.candidates ?? []).includes(fault.subject))
  );
}

/** Faults that only show while the site is on its own, and how long after the grid went. */
const SHOWS_AFTER_MS: { readonly [What in FaultWhat]?: number } = {
  overload_sag: 120_000,
  voltage_sag: 120_000,
  overload_trip: 180_000,
  surplus: 0,
  hunting: 0,
};

/** When a fault could first be seen; delays and onsets are held against it. */
function showsFrom(site: SimSite, fault: Fault): number {
  const after = SHOWS_AFTER_MS[fault.what];
  if (after === undefined) return fault.start;
  const outage = site.outages.find(({ start, end }) => start >= fault.start && end - start > 2.5 * after + site.stepMs);
  return outage === undefined ? fault.start : outage.start + after;
}

/** Lost output and silence that really were are no false alarms, whatever fault is in. */
function isTrue(finding: Finding, events: readonly TrueEvent[]): boolean {
  return (
    finding.kind === 'output_lost' &&
    events.some((e) => e.lostMs > 0 && finding.start >= e.start - HOUR_MS && finding.start <= e.end + HOUR_MS)
  );
}

export function scoreSite(
  { site, scenario }: PlannedSite,
  found: { readonly findings: readonly Finding[]; readonly events: readonly BackupEvent[] },
  events: readonly TrueEvent[],
  oracleH: number | null,
): SiteScore {
  const faults = site.faults.map((fault): FaultScore => {
    const matching = found.findings
      .filter((finding) => isOf(finding, fault))
      .sort((a, b) => a.detectedAt - b.detectedAt);
    const own = matching.find((finding) => finding.kind === fault.kind) ?? matching[0] ?? null;
    const isOwn = own !== null && own.kind === fault.kind;
    return {
      site: site.id,
      scenario,
      kind: fault.kind,
      fault,
      found: own,
      delayH: own === null ? null : (matching[0]!.detectedAt - showsFrom(site, fault)) / HOUR_MS,
      oracleH,
      onsetErrorH: own === null ? null : (own.start - showsFrom(site, fault)) / HOUR_MS,
      isCauseRight: !isOwn || fault.cause === null ? null : own.causes[0]?.cause === fault.cause,
    };
  });
  const falseAlarms = found.findings.filter(
    (finding) => !site.faults.some((fault) => isOf(finding, fault)) && !isTrue(finding, events),
  );
  const withinMs = site.stepMs + site.jitterMs + 1000;
  const isSame = (real: TrueEvent, said: BackupEvent): boolean =>
    Math.abs(said.start - real.start) <= withinMs && said.end !== null && Math.abs(said.end - real.end) <= withinMs;
  const long = events.filter((e) => e.end - e.start > site.stepMs + site.jitterMs);
  return {
    site: site.id,
    scenario,
    days: site.days,
    faults,
    falseAlarms,
    events: {
      real: long.length,
      found: long.filter((real) => found.events.some((said) => isSame(real, said))).length,
      invented: found.events.filter(
        (said) =>
          !events.some((real) => said.start < real.end + withinMs && (said.end ?? said.start) > real.start - withinMs),
      ).length,
      heldWrong: long.filter((real) => found.events.some((said) => isSame(real, said) && said.held !== real.held))
        .length,
    },
  };
}
