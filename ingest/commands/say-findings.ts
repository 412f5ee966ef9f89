/** All findings of a fleet as text for a terminal: open ones first, the most urgent on top. */
import { type CannotTell, type Finding, SEVERITIES } from '../vocabulary/finding.ts';
import { counted, countedOf, plainWords } from './figures.ts';
import { sayCauses, sayFinding } from './say-finding.ts';
import { hangingText } from './text-table.ts';

export interface SaidFinding {
  readonly finding: Finding;
  /** The site's time zone. */
  readonly zone: string;
}

/** Open before ended, urgent before soon, then by site and the newest start. */
function byUrgency(a: SaidFinding, b: SaidFinding): number {
  return (
    Number(a.finding.end !== null) - Number(b.finding.end !== null) ||
    SEVERITIES.indexOf(a.finding.severity) - SEVERITIES.indexOf(b.finding.severity) ||
    (a.finding.site < b.finding.site ? -1 : a.finding.site > b.finding.site ? 1 : 0) ||
    b.finding.start - a.finding.start
  );
}

/** One sentence a finding under the headings Open and Ended; in words where there is nothing. */
export function sayFindings(findings: readonly SaidFinding[], width: number): string[] {
  if (findings.length === 0) return ['Nothing found at the sites that were looked at.'];
  const sorted = [...findings].sort(byUrgency);
  const severityWidth = Math.max(...sorted.map(({ finding }) => finding.severity.length));
  const siteWidth = Math.max(...sorted.map(({ finding }) => finding.site.length));
  const block = (title: string, some: readonly SaidFinding[]): string[] =>
    some.length === 0
      ? []
      : [
          `${title} (${some.length})`,
          ...some.flatMap(({ finding, zone }) => {
            const head = `  ${finding.severity.padEnd(severityWidth)}  ${finding.site.padEnd(siteWidth)}  `;
            const causes = sayCauses(finding);
            return [
              ...hangingText(head, sayFinding(finding, zone), width),
              ...(causes === null ? [] : hangingText(' '.repeat(head.length), causes, width)),
            ];
          }),
        ];
  const open = sorted.filter(({ finding }) => finding.end === null);
  const ended = sorted.filter(({ finding }) => finding.end !== null);
  return [...block('Open', open), ...(open.length > 0 && ended.length > 0 ? [''] : []), ...block('Ended', ended)];
}

/** What could not be judged, one line a kind and reason, with the sites it holds for. */
export function sayCannotTell(cannotTell: readonly CannotTell[], width: number): string[] {
  if (cannotTell.length === 0) return [];
  const groups = new Map<string, { head: string; who: string[] }>();
  for (const { site, kind, subject, because } of cannotTell) {
    // 'needs 7 loaded days, 3 are in': what it needs is said once, how much is in for each.
    const [, needs = because, soFar = null] = /^(.*), (\d[^,]*)$/.exec(because) ?? [];
    const head = `${plainWords(kind)}: ${needs}`;
    const group = groups.get(head) ?? { head, who: [] };
    groups.set(head, group);
    const details = [...(subject === 'site' ? [] : [subject]), ...(soFar === null ? [] : [soFar])];
    group.who.push(details.length === 0 ? site : `${site} (${details.join('; ')})`);
  }
  return [
    'Could not be told yet',
    ...[...groups.values()].flatMap(({ head, who }) => hangingText('  ', `${head}: ${who.join(', ')}`, width)),
  ];
}

/** 'Looked at 12 sites: 3 open findings, 4 ended. …'; 'Looked at 11 of 12 sites' where one could not be analysed. */
export function sayLookedAt(looked: number, asked: number, findings: readonly Finding[]): string {
  const open = findings.filter(({ end }) => end === null).length;
  return `Looked at ${countedOf(looked, asked)}: ${counted(open, 'open finding')}, ${findings.length - open} ended. Times are in each site's zone.`;
}
