/** The stable address of a finding: it stays while evidence grows, because the first detection does not move. */
import type { SayableFinding } from './finding.ts';

const UNTOLD = 'untold';

/** `millpond.share_drift.u2.20260330T162000.000Z`; of several candidates `p1~p2`. Every sign may stand in a URL. */
export function findingId({
  site,
  kind,
  subject,
  candidates,
  detectedAt,
}: Pick<SayableFinding, 'site' | 'kind' | 'subject' | 'candidates' | 'detectedAt'>): string {
  const whom = subject ?? (candidates === undefined || candidates.length === 0 ? UNTOLD : candidates.join('~'));
  const when = new Date(detectedAt).toISOString().replaceAll(/[-:]/g, '');
  return `${site}.${kind}.${whom}.${when}`;
}

/** The site in a finding's id; null where the text is no such id. */
export function siteOfFindingId(id: string): string | null {
  return /^([a-z0-9-]{1,40})\.[a-z_]+\.[a-z0-9~-]+\.\d{8}T\d{6}\.\d{3}Z$/.exec(id)?.[1] ?? null;
}
