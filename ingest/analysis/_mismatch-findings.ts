/** Settings that differ, joined into findings: what changed together on one unit is one condition. */
import type { Finding, Severity } from '../vocabulary/finding.ts';
import { epochMs, HOUR_MS } from '../vocabulary/time.ts';
import type { Odd } from './_odd-settings.ts';
import { settingNumber } from './_setting-values.ts';

export interface Mismatch extends Odd {
  readonly key: string;
  readonly start: number;
  readonly detectedAt: number;
  readonly end: number | null;
  /** `u1 lithium`, a unit each, when it was raised. */
  readonly values: readonly string[];
}

/** What begins on one unit within this time of the first is one piece of work: an update, a replacement. */
const TOGETHER_MS = HOUR_MS;

/** What decides whether the unit carries its part when the grid goes; the rest waits for a visit. */
const AT_RISK = ['parallel_mode', 'output_voltage_setpoint_v', 'output_frequency_setpoint_hz', 'low_soc_cutoff_pct'];

function severityOf(keys: readonly string[]): Severity {
  return keys.some((key) => key.startsWith('battery_') || AT_RISK.includes(key)) ? 'soon' : 'plan';
}

function groupsOf(mismatches: readonly Mismatch[]): Mismatch[][] {
  const groups: Mismatch[][] = [];
  // In the order in which they were seen: a log cut at any time then has the first of the same groups.
  const inOrder = [...mismatches].sort(
    (a, b) => a.detectedAt - b.detectedAt || a.start - b.start || (a.key < b.key ? -1 : 1),
  );
  for (const mismatch of inOrder) {
    const own = groups.find(
      (group) =>
        group[0]!.subject === mismatch.subject &&
        String(group[0]!.candidates) === String(mismatch.candidates) &&
        Math.abs(mismatch.start - group[0]!.start) <= TOGETHER_MS &&
        group.some(({ end }) => end === null || end >= mismatch.start),
    );
    if (own === undefined) groups.push([mismatch]);
    else own.push(mismatch);
  }
  return groups;
}

function findingOf(group: readonly Mismatch[], site: string): Finding {
  const first = group[0]!;
  const keys = [...new Set(group.map(({ key }) => key))];
  const lasting = group.some(({ end }) => end === null);
  const head = group.find(({ key }) => severityOf([key]) === 'soon') ?? first;
  return {
    site,
    kind: 'settings_mismatch',
    subject: first.subject,
    ...(first.subject === null ? { candidates: first.candidates } : {}),
    start: epochMs(first.start),
    detectedAt: epochMs(Math.min(...group.map(({ detectedAt }) => detectedAt))),
    end: lasting ? null : epochMs(Math.max(...group.map(({ end }) => end ?? 0))),
    severity: severityOf(keys),
    measure: `setting ${head.key}`,
    value: settingNumber(head.value),
    baseline: settingNumber(head.expected),
    limit: null,
    causes: [],
    evidence: {
      settings: keys,
      told_by: head.by,
      ...Object.fromEntries(group.map(({ key, values }) => [key, values])),
    },
  };
}

/** One finding for each unit and piece of work, in order of start. */
export function mismatchFindings(mismatches: readonly Mismatch[], site: string): Finding[] {
  return groupsOf(mismatches)
    .map((group) => findingOf(group, site))
    .sort((a, b) => a.start - b.start);
}
