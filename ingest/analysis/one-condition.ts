/** One condition is one finding (formats.md, section 4): the findings of all analyzers are joined last. */
import type { Finding } from '../vocabulary/finding.ts';
import { DAY_MS, epochMs, MINUTE_MS } from '../vocabulary/time.ts';

/** Settings that move the share by themselves. */
const SHARING_KEYS: readonly string[] = [
  'output_voltage_setpoint_v',
  'output_frequency_setpoint_hz',
  'parallel_mode',
  'battery_shared',
];
/** How long before a drift a difference of settings may stand and still be what is behind it … */
const BEHIND_MS = 3 * DAY_MS;
/** Between two losses of the output closer than this the set was only trying. */
const RETRY_MS = 10 * MINUTE_MS;
const PACK_KINDS: ReadonlySet<string> = new Set(['pack_not_carrying', 'pack_capacity_loss']);
/** … and how far the best estimate of a drift's start may lie before the change that caused it. */
const START_ERROR_MS = DAY_MS;

/** Whether the settings that a mismatch names move the share. */
function differsInSharing({ evidence }: Finding): boolean {
  const keys = Array.isArray(evidence.settings) ? evidence.settings : [];
  return keys.some((key) => SHARING_KEYS.includes(String(key)));
}

const overlaps = (a: Finding, b: Finding): boolean =>
  a.start <= (b.end ?? Number.POSITIVE_INFINITY) && b.start <= (a.end ?? Number.POSITIVE_INFINITY);

const names = (finding: Finding): readonly (string | null)[] => finding.candidates ?? [finding.subject];
const speakOfOne = (a: Finding, b: Finding): boolean => names(a).some((name) => names(b).includes(name));

/** Joins what is one condition; the order of the input does not matter to what is kept. */
export function oneCondition(findings: readonly Finding[]): Finding[] {
  let kept = [...findings];
  kept = joinModes(kept);
  kept = joinSettings(kept);
  kept = joinLosses(kept);
  return kept.filter((finding) => !isCoveredByPack(finding, kept));
}

/** A share that drifted on the grid and in backup is one drift: the one raised first speaks, the other is its evidence. */
function joinModes(findings: readonly Finding[]): Finding[] {
  const drifts = findings
    .filter((f) => f.kind === 'share_drift')
    .sort((a, b) => a.detectedAt - b.detectedAt || a.start - b.start);
  const dropped = new Set<Finding>();
  const extended = new Map<Finding, Finding>();
  drifts.forEach((first, i) => {
    if (dropped.has(first)) return;
    for (const second of drifts.slice(i + 1)) {
      if (
        dropped.has(second) ||
        second.evidence.mode === first.evidence.mode ||
        !overlaps(first, second) ||
        !speakOfOne(first, second)
      )
        continue;
      dropped.add(second);
      const mode = String(second.evidence.mode);
      const now = extended.get(first) ?? first;
      extended.set(first, {
        ...now,
        start: epochMs(Math.min(second.start, now.start)),
        end: now.end === null || second.end === null ? null : epochMs(Math.max(now.end, second.end)),
        evidence: { ...now.evidence, [`${mode}_value`]: second.value, [`${mode}_baseline`]: second.baseline },
      });
    }
  });
  return findings.filter((f) => !dropped.has(f)).map((f) => extended.get(f) ?? f);
}

/** Whether a difference of settings can be what moved the share: a share in backup shows only at the next outage. */
function isBehind(mismatch: Finding, drift: Finding): boolean {
  const laterMs = drift.start - mismatch.start;
  if (!overlaps(mismatch, drift) || laterMs < -START_ERROR_MS) return false;
  return laterMs <= BEHIND_MS || drift.evidence.mode === 'backup';
}

/** share_drift with an equal settings difference behind it is raised as settings_mismatch. */
function joinSettings(findings: readonly Finding[]): Finding[] {
  const dropped = new Set<Finding>();
  const extended = new Map<Finding, Finding>();
  const newestFirst = findings
    .filter((f) => f.kind === 'settings_mismatch' && differsInSharing(f))
    .sort((a, b) => b.start - a.start || (String(a.subject) < String(b.subject) ? -1 : 1));
  for (const mismatch of newestFirst) {
    for (const drift of findings) {
      if (drift.kind !== 'share_drift' || dropped.has(drift) || !isBehind(mismatch, drift)) continue;
      dropped.add(drift);
      const now = extended.get(mismatch) ?? mismatch;
      extended.set(mismatch, {
        ...now,
        evidence: {
          ...now.evidence,
          share_value: drift.value,
          share_baseline: drift.baseline,
          share_unit: drift.subject,
          share_mode: drift.evidence.mode ?? null,
        },
      });
    }
  }
  return findings.filter((f) => !dropped.has(f)).map((f) => extended.get(f) ?? f);
}

/** An output that comes back and goes again within minutes was lost once: the set tries to start, and trips. */
function joinLosses(findings: readonly Finding[]): Finding[] {
  const losses = findings.filter((f) => f.kind === 'output_lost').sort((a, b) => a.start - b.start);
  const joined: Finding[] = [];
  for (const loss of losses) {
    const before = joined.at(-1);
    if (before === undefined || before.end === null || loss.start - before.end > RETRY_MS) joined.push(loss);
    else {
      const times = Number(before.evidence.times_lost ?? 1) + 1;
      joined[joined.length - 1] = { ...before, end: loss.end, evidence: { ...before.evidence, times_lost: times } };
    }
  }
  return [...findings.filter((f) => f.kind !== 'output_lost'), ...joined];
}

/** What is told of one pack: a kind of its own goes before soc_divergence, and of two alike the first raised. */
function isCoveredByPack(finding: Finding, findings: readonly Finding[]): boolean {
  if (finding.kind !== 'soc_divergence' && !PACK_KINDS.has(finding.kind)) return false;
  return findings.some((f) => {
    if (f === finding || !PACK_KINDS.has(f.kind) || !overlaps(f, finding) || !speakOfOne(f, finding)) return false;
    return (
      finding.kind === 'soc_divergence' ||
      f.detectedAt < finding.detectedAt ||
      (f.detectedAt === finding.detectedAt && f.start < finding.start)
    );
  });
}
