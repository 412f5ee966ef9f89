/** One condition is one finding (formats.md, section 4): the findings of all analyzers are joined last. */
import type { Finding } from '../vocabulary/finding.ts';
import { DAY_MS, epochMs, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';

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
  kept = joinCirculation(kept);
  kept = joinHunting(kept);
  kept = kept.filter((finding) => !isByClock(finding, kept));
  kept = kept.filter((finding) => !isByStuck(finding, kept) && !isStuckUnseen(finding, kept));
  return joinPacks(kept).map(withoutTold);
}

/** Whether a drift of share or a difference of settings is the setpoint that makes power go round between these units. */
function isSetpoint(finding: Finding, circulation: Finding): boolean {
  const { kind, causes, start, end } = finding;
  const isOne =
    (kind === 'share_drift' && causes[0]?.cause === 'setpoint_offset') ||
    (kind === 'settings_mismatch' && differsInSharing(finding));
  const until = (end ?? Number.POSITIVE_INFINITY) + START_ERROR_MS;
  return isOne && circulation.start >= start - START_ERROR_MS && circulation.start <= until;
}

/**
 * Power that goes round is what a moved setpoint does at light load. Where the setting itself is known to differ, that is
 * the condition; of a drift of share and the circulation, the one that was raised first. The other is its evidence.
 */
function joinCirculation(findings: readonly Finding[]): Finding[] {
  const dropped = new Set<Finding>();
  const extended = new Map<Finding, Finding>();
  const circulations = findings
    .filter((f) => f.kind === 'circulating_power')
    .sort((a, b) => a.detectedAt - b.detectedAt);
  for (const circulation of circulations) {
    const behind = findings
      .filter((f) => !dropped.has(f) && isSetpoint(f, circulation))
      .sort((a, b) => (a.kind === b.kind ? a.detectedAt - b.detectedAt : a.kind === 'settings_mismatch' ? -1 : 1))[0];
    if (behind === undefined) continue;
    const isFirst = behind.kind === 'settings_mismatch' || behind.detectedAt <= circulation.detectedAt;
    const [stays, goes] = isFirst ? [behind, circulation] : [circulation, behind];
    const now = extended.get(stays) ?? stays;
    dropped.add(goes);
    const told = isFirst
      ? { circulating_power_w: circulation.value }
      : { share_unit: behind.subject, share_value: behind.value, share_baseline: behind.baseline };
    extended.set(stays, { ...now, evidence: { ...now.evidence, ...told } });
  }
  return findings.filter((f) => !dropped.has(f)).map((f) => extended.get(f) ?? f);
}

/** An excursion that swings because controllers fight is the hunting itself: raised under that kind, with its extreme. */
function joinHunting(findings: readonly Finding[]): Finding[] {
  const dropped = new Set<Finding>();
  const joined = findings.map((hunt) => {
    if (hunt.kind !== 'hunting') return hunt;
    const frequency = findings.find(
      (f) => f.kind === 'frequency_excursion' && f.causes[0]?.cause === 'hunting' && overlaps(f, hunt),
    );
    if (frequency === undefined) return hunt;
    dropped.add(frequency);
    return {
      ...hunt,
      evidence: { ...hunt.evidence, excursion_hz: frequency.value, excursion_limit_hz: frequency.limit },
    };
  });
  return joined.filter((f) => !dropped.has(f));
}

const standsStill = ({ kind, evidence }: Finding, quantity: string): boolean =>
  kind === 'stuck_reading' && Array.isArray(evidence.quantities) && evidence.quantities.includes(quantity);

/** A power that stands still moves every share of its site: the reading is the condition. */
function isByStuck(finding: Finding, findings: readonly Finding[]): boolean {
  if (finding.kind !== 'share_drift') return false;
  return findings.some(
    (f) =>
      standsStill(f, 'output_power_w') &&
      overlaps(f, finding) &&
      f.start <= finding.start + START_ERROR_MS &&
      f.detectedAt <= finding.detectedAt,
  );
}

/** A unit that no longer sees its battery reads one voltage and no current: that is the same condition. */
function isStuckUnseen(finding: Finding, findings: readonly Finding[]): boolean {
  const { kind, evidence } = finding;
  if (kind !== 'stuck_reading' || !Array.isArray(evidence.quantities)) return false;
  if (!evidence.quantities.every((quantity) => /^(dc_|battery_)/.test(String(quantity)))) return false;
  return findings.some(
    (f) =>
      f.kind === 'battery_unseen' &&
      speakOfOne(f, finding) &&
      overlaps(f, finding) &&
      f.detectedAt <= finding.detectedAt,
  );
}

/** A unit whose stamps are known to be far off seems to leave the grid at another time than the others. */
function isByClock(finding: Finding, findings: readonly Finding[]): boolean {
  if (finding.kind !== 'single_unit_grid_loss' || finding.end === null) return false;
  const { start, end } = finding;
  return findings.some(
    (f) =>
      f.kind === 'clock_offset' &&
      overlaps(f, finding) &&
      Math.abs(f.value ?? 0) * SECOND_MS >= (end - start) / 2 &&
      f.detectedAt <= finding.detectedAt,
  );
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

/**
 * Whether one was open, as far as was known then, when the other was raised. An end is told later than it lies: what an open
 * finding covered stays covered, or it would come up again with a time at which nothing was said of it.
 */
const wasOpenAt = (finding: Finding, t: number): boolean =>
  finding.detectedAt <= t && t <= (finding.endToldAt ?? finding.end ?? Number.POSITIVE_INFINITY);

const isPackKind = ({ kind }: Finding): boolean => PACK_KINDS.has(kind);
const isParting = ({ kind }: Finding): boolean => kind === 'soc_divergence';
const inOrder = (a: Finding, b: Finding): number => a.detectedAt - b.detectedAt || a.start - b.start;

/** What is told of one pack: of two alike the first raised, and a kind of its own goes before soc_divergence. */
function joinPacks(findings: readonly Finding[]): Finding[] {
  const isOne = (f: Finding, later: Finding): boolean =>
    speakOfOne(f, later) && (overlaps(f, later) || wasOpenAt(f, later.detectedAt));
  const firsts = (alike: readonly Finding[]): Finding[] => {
    const first: Finding[] = [];
    for (const later of [...alike].sort(inOrder)) if (!first.some((f) => isOne(f, later))) first.push(later);
    return first;
  };
  const packs = firsts(findings.filter(isPackKind));
  const partings = firsts(findings.filter(isParting)).filter((parting) => !packs.some((f) => isOne(f, parting)));
  // What rests on a reading that is known to be stuck is the stuck reading.
  const stuck = findings.filter((f) => f.kind === 'stuck_reading');
  const isByStuck = (later: Finding): boolean =>
    stuck.some((f) => f.detectedAt <= later.detectedAt && f.start <= later.detectedAt && isOne(f, later));
  const kept = new Set([...packs, ...partings].filter((f) => !isByStuck(f)));
  return findings.filter((f) => kept.has(f) || (!isPackKind(f) && !isParting(f)));
}

/** When an end was told is only for the joining. */
function withoutTold({ endToldAt: _, ...finding }: Finding): Finding {
  return finding;
}
