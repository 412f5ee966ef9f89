/** The scores of a fleet as lines of text. */
import type { FaultScore, SiteScore } from './score.ts';

const DAYS_A_YEAR = 365.25;

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  if (sorted.length === 0) return Number.NaN;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

const percent = (part: number, whole: number): string => (whole === 0 ? '–' : `${Math.round((100 * part) / whole)} %`);
const hours = (values: readonly (number | null)[]): string => {
  const known = values.filter((v): v is number => v !== null);
  return known.length === 0 ? '–' : `${median(known).toFixed(1)} h`;
};

/** How many times the oracle's delay it took, in the median of the faults that both found. */
function oracleText(found: readonly FaultScore[]): string {
  const ratios = found.flatMap(({ delayH, oracleH }) =>
    delayH === null || oracleH === null ? [] : [delayH / oracleH],
  );
  return ratios.length === 0 ? '–' : `× ${median(ratios).toFixed(1)}`;
}

function kindLine(kind: string, faults: readonly FaultScore[]): string {
  const found = faults.filter(({ found }) => found !== null);
  const causes = faults.flatMap(({ isCauseRight }) => (isCauseRight === null ? [] : [isCauseRight]));
  const cells = [
    kind.padEnd(24),
    `${found.length}/${faults.length}`.padStart(7),
    percent(found.length, faults.length).padStart(6),
    hours(found.map(({ delayH }) => delayH)).padStart(10),
    oracleText(found).padStart(8),
    hours(found.map(({ onsetErrorH }) => (onsetErrorH === null ? null : Math.abs(onsetErrorH)))).padStart(10),
    percent(causes.filter(Boolean).length, causes.length).padStart(8),
  ];
  return cells.join(' ');
}

export function sayTable(
  scores: readonly SiteScore[],
  run: { readonly readings: number; readonly analysisMs: number },
): string {
  const faults = scores.flatMap((s) => s.faults);
  const kinds = [...new Set(faults.map(({ kind }) => kind))].sort();
  const years = scores.reduce((sum, s) => sum + s.days, 0) / DAYS_A_YEAR;
  const alarms = scores.flatMap((s) => s.falseAlarms);
  const byKind = new Map<string, number>();
  for (const { kind } of alarms) byKind.set(kind, (byKind.get(kind) ?? 0) + 1);
  const events = scores.reduce(
    (sum, { events: e }) => ({
      real: sum.real + e.real,
      found: sum.found + e.found,
      invented: sum.invented + e.invented,
      heldWrong: sum.heldWrong + e.heldWrong,
    }),
    { real: 0, found: 0, invented: 0, heldWrong: 0 },
  );
  const foundAll = faults.filter(({ found }) => found !== null).length;
  return [
    `${'kind'.padEnd(24)} ${'found'.padStart(7)} ${''.padStart(6)} ${'delay'.padStart(10)} ${'oracle'.padStart(8)} ${'onset off'.padStart(10)} ${'cause'.padStart(8)}`,
    ...kinds.map((kind) =>
      kindLine(
        kind,
        faults.filter((f) => f.kind === kind),
      ),
    ),
    kindLine('all', faults),
    '',
    `faults found: ${percent(foundAll, faults.length)} (asked 95 %, no kind below 80 %)`,
    `false alarms: ${alarms.length} in ${years.toFixed(2)} site-years = ${(alarms.length / years).toFixed(2)} a year (asked 0.1)${alarms.length === 0 ? '' : `: ${[...byKind].map(([k, n]) => `${k} ${n}`).join(', ')}`}`,
    `backup events longer than a sample: ${events.found} of ${events.real} within a sample; invented ${events.invented}; held wrong ${events.heldWrong}`,
    `analysed ${(run.readings / 1e6).toFixed(2)} M readings in ${(run.analysisMs / 1000).toFixed(1)} s`,
  ].join('\n');
}
