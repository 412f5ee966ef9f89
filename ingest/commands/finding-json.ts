/** A finding as it leaves the process (formats.md, section 4). */
import type { Finding } from '../vocabulary/finding.ts';
import { formatTime } from '../vocabulary/time.ts';

/** The keys of the contract, in its order; `candidates` only where the subject can't be told. */
export function findingJson(finding: Finding): Record<string, unknown> {
  return {
    site: finding.site,
    kind: finding.kind,
    subject: finding.subject,
    ...(finding.candidates === undefined ? {} : { candidates: finding.candidates }),
    start: formatTime(finding.start),
    detected_at: formatTime(finding.detectedAt),
    end: finding.end === null ? null : formatTime(finding.end),
    severity: finding.severity,
    measure: finding.measure,
    value: finding.value,
    baseline: finding.baseline,
    limit: finding.limit,
    causes: finding.causes.map(({ cause, weight }) => ({ cause, weight })),
    evidence: finding.evidence,
  };
}
